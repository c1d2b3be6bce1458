"""A bench multimeter on raw TCP after IEEE 488.2 and SCPI: *IDN?, SYST:ERR?, MEAS:VOLT:DC?, MEAS:CURR:DC?.

Volts lie between 1 and 2, milliamperes between 4 and 20, so that a reply to the wrong question shows.
While the file LOG.garble exists its replies are late, torn or preceded by noise.

usage: scpi_responder.py PORT LOG
"""
import os
import random
import socketserver
import sys
import time

log = open(sys.argv[2], "a", buffering=1)


class Meter(socketserver.StreamRequestHandler):
    def handle(self):
        for raw in self.rfile:
            question = raw.decode("ascii", "replace").strip().upper()
            if question == "*IDN?":
                reply = "ARCHIVE BENCH,DMM,0,1.0"
            elif question == "SYST:ERR?":
                reply = '0,"No error"'
            elif question == "MEAS:VOLT:DC?":
                reply = f"{random.uniform(1, 2):+.9E}"
                log.write(f"V {reply}\n")
            elif question == "MEAS:CURR:DC?":
                reply = f"{random.uniform(4, 20):+.9E}"
                log.write(f"I {reply}\n")
            else:
                continue
            data = reply.encode() + b"\n"
            if os.path.exists(sys.argv[2] + ".garble"):
                luck = random.random()
                if luck < 0.3:
                    time.sleep(0.6)
                elif luck < 0.6:
                    data = b"\xff\x00" + data
                elif luck < 0.8:
                    data = data[: len(data) // 2] + b"?\n"
            self.wfile.write(data)


class Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True


with Server(("127.0.0.1", int(sys.argv[1])), Meter) as server:
    print("READY", flush=True)
    server.serve_forever()
