"""Sends lines 'sequence,counter,timecode*CRC' to a serial port, ten a second: seconds that run with the clock.

usage: counter_emitter.py PORT LOG

The counter begins at 90 s and the timecode at an hour. The log's only line is the wall clock's unix seconds at which they did.
"""
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
begin, wall = time.monotonic(), time.time()
with open(sys.argv[2], "w") as log:
    log.write(f"{wall:.6f}\n")
print("READY", flush=True)
sequence = 0
while True:
    sequence += 1
    ran = time.monotonic() - begin
    body = f"{sequence},{90 + ran:.3f},{3600 + ran:.3f}".encode()
    port.write(body + b"*%04X\r\n" % crc16(body))
    time.sleep(max(0, begin + sequence / 10 - time.monotonic()))
