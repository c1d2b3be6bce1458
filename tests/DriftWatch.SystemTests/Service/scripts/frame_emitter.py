"""Sends frames of 64 points, 'F,sequence,angle,v1..v64*CRC', to a serial port and logs each line that was sent.

usage: frame_emitter.py PORT LOG FRAMES_PER_SECOND SEED
Values are random doubles in the shortest decimal that reads back to the same bits.
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
log = open(sys.argv[2], "a", buffering=1)
chance = random.Random(int(sys.argv[4]))
sequence = 4294967290  # wraps at 2**32 after six frames
print("READY", flush=True)
while True:
    values = [chance.gauss(0, 120) for _ in range(64)]
    body = f"F,{sequence},{chance.uniform(0, 359.9)!r},{','.join(repr(v) for v in values)}"
    port.write(body.encode() + b"*%04X\n" % crc16(body.encode()))
    log.write(body + "\n")
    sequence = (sequence + 1) % 2**32
    time.sleep(1 / float(sys.argv[3]))
