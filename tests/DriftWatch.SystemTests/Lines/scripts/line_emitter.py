"""Sends lines 'sequence,v1,v2,v3,v4*CRC' to a serial port at 115200 and logs what it sent.

usage: line_emitter.py PORT LOG LINES_PER_SECOND FIRST_SEQUENCE
"""
import math
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
log = open(sys.argv[2], "a", buffering=1)
rate = float(sys.argv[3])
sequence = int(sys.argv[4])
due = time.monotonic()
print("READY", flush=True)
while True:
    fields = [f"{50 + math.sin(sequence / 9 + k) * 10 ** (1 - k):.{3 + k}f}" for k in range(4)]
    body = f"{sequence},{','.join(fields)}".encode()
    port.write(body + b"*%04X\r\n" % crc16(body))
    log.write(f"{sequence} {' '.join(fields)}\n")
    sequence += 1
    due += 1 / rate
    time.sleep(max(0, due - time.monotonic()))
