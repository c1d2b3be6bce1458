"""A pressure transmitter made of Debian's python3-pymodbus: unit 17, input registers 0-1 hold a float32 that changes.

usage: modbus_slave.py PORT LOG
"""
import asyncio
import random
import struct
import sys

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartAsyncSerialServer
from pymodbus.transaction import ModbusRtuFramer

log = open(sys.argv[2], "a", buffering=1)


def registers(value):
    return list(struct.unpack(">HH", struct.pack(">f", value)))


def say(value):
    """The value as single precision holds it, in full."""
    log.write(repr(struct.unpack(">f", struct.pack(">f", value))[0]) + "\n")


slave = ModbusSlaveContext(
    hr=ModbusSequentialDataBlock(0, [0] * 16),
    ir=ModbusSequentialDataBlock(0, registers(6.25) + registers(-3.5) + [0xFFFE] + [0] * 16),
    zero_mode=True,
)


async def vary():
    while True:
        value = 6.25 + random.uniform(-1, 1)
        say(value)
        slave.setValues(4, 0, registers(value))
        await asyncio.sleep(0.05)


async def main():
    say(6.25)
    asyncio.get_running_loop().create_task(vary())
    print("READY", flush=True)
    await StartAsyncSerialServer(
        context=ModbusServerContext(slaves={17: slave}, single=False),
        framer=ModbusRtuFramer,
        port=sys.argv[1],
        baudrate=19200,
        bytesize=8,
        parity="N",
        stopbits=1,
        timeout=1,
        ignore_missing_slaves=True,
    )


asyncio.run(main())
