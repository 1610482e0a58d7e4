"""
A Modbus server by pymodbus for the tests: tcp PORT, or rtu PATH. Says as JSON on its first line what lies where, then
serves slaves 1 and 2 until it is killed.
"""
import json
import struct
import sys

from pymodbus.constants import Endian
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.payload import BinaryPayloadBuilder
from pymodbus.server import StartSerialServer, StartTcpServer
from pymodbus.transaction import ModbusRtuFramer

VALUES = {
    "int16": ("add_16bit_int", [0, 1, -1, -5, 32767, -32767]),
    "uint16": ("add_16bit_uint", [0, 1, 65534, 32768]),
    "int32": ("add_32bit_int", [0, -5, 350200, -2147483647]),
    "uint32": ("add_32bit_uint", [0, 350200, 4294967294]),
    "float32": ("add_32bit_float", [0.0, 350.0, -0.5, 700.5, 1e-6, 3.25e7]),
    "float64": ("add_64bit_float", [0.0, 350.2, -123.456, 1e300]),
}


def swapped(registers):
    return [struct.unpack("<H", struct.pack(">H", register))[0] for register in registers]


def written(method, value, order):
    words = Endian.Big if order in ("ABCD", "BADC") else Endian.Little
    builder = BinaryPayloadBuilder(byteorder=Endian.Big, wordorder=words)
    getattr(builder, method)(value)
    registers = builder.to_registers()
    return swapped(registers) if order in ("BADC", "DCBA") else registers


registers, layout = [], []
for kind, (method, values) in VALUES.items():
    for order in ("ABCD", "CDAB", "BADC", "DCBA"):
        for value in values:
            layout.append({"type": kind, "order": order, "address": len(registers), "value": value})
            registers += written(method, value, order)

bits = [n % 3 == 0 for n in range(64)]


def slave(first):
    """The same registers; slave 2 has its number in the first one."""
    return ModbusSlaveContext(
        hr=ModbusSequentialDataBlock(0, [first] + registers),
        ir=ModbusSequentialDataBlock(0, [first] + registers),
        co=ModbusSequentialDataBlock(0, bits),
        di=ModbusSequentialDataBlock(0, [not bit for bit in bits]),
        zero_mode=True,
    )


context = ModbusServerContext(slaves={1: slave(1), 2: slave(2)}, single=False)
for entry in layout:
    entry["address"] += 1
print(json.dumps({"layout": layout, "registers": len(registers) + 1}), flush=True)
how, where = sys.argv[1:3]
if how == "tcp":
    StartTcpServer(context=context, address=("127.0.0.1", int(where)))
else:
    StartSerialServer(context=context, framer=ModbusRtuFramer, port=where, baudrate=19200, timeout=0.005)
