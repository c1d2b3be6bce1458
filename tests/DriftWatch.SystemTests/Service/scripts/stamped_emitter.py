"""Sends lines 'sequence,v1,v2,v3,v4*CRC' to a serial port and logs each with the instant at which it was sent.

usage: stamped_emitter.py PORT LOG LINES_PER_SECOND

The log's lines are 'sequence unix-seconds v1 v2 v3 v4'. The wall clock here is the machine's own, also where the service
under test runs under another.
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
sequence = 1
due = time.monotonic()
print("READY", flush=True)
while True:
    fields = [f"{50 + math.sin(sequence / 9 + k) * 10 ** (1 - k):.{3 + k}f}" for k in range(4)]
    body = f"{sequence},{','.join(fields)}".encode()
    line = body + b"*%04X\r\n" % crc16(body)
    now = time.time()
    log.write(f"{sequence} {now:.6f} {' '.join(fields)}\n")  # before it can be stored
    port.write(line)
    sequence += 1
    due += 1 / rate
    time.sleep(max(0, due - time.monotonic()))
