"""Sends lines 'v1,v2,…*CRC' to a serial port ten times a second: the values that stand in a file, each a little noisy.

usage: steered_emitter.py PORT FILE

The file is one line of numbers and may be put in place of another at any time.
"""
import random
import sys
import time

import serial


def crc16(data):
    """CRC-16/MODBUS, bit by bit, independent of the program under test."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc


port = serial.Serial(sys.argv[1], 115200)
noise = random.Random(7)
due = time.monotonic()
print("READY", flush=True)
while True:
    with open(sys.argv[2]) as file:
        values = [float(word) for word in file.read().split()]
    body = ",".join(f"{value + noise.uniform(-0.02, 0.02):.3f}" for value in values).encode()
    port.write(body + b"*%04X\r\n" % crc16(body))
    due += 0.1
    time.sleep(max(0, due - time.monotonic()))
