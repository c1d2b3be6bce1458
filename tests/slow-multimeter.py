"""A SCPI responder on raw TCP whose replies sometimes take longer than the merge waits, so that late readings occur
for real. Usage: slow-multimeter.py PORT SEED. Prints 'ready' once it listens."""
import random
import socket
import sys
import time

port, seed = int(sys.argv[1]), int(sys.argv[2])
chance = random.Random(seed)
server = socket.create_server(("127.0.0.1", port))
print("ready", flush=True)
while True:
    client, _ = server.accept()
    pending = b""
    with client:
        while True:
            try:
                data = client.recv(256)
            except ConnectionError:
                break
            if not data:
                break
            pending += data
            while b"\n" in pending:
                line, pending = pending.split(b"\n", 1)
                query = line.strip().upper()
                if query == b"*IDN?":
                    reply = b"MARRAM,BENCH METER,0,1.0"
                elif query == b"SYST:ERR?":
                    reply = b'0,"No error"'
                elif query == b"*OPC?":
                    reply = b"1"
                elif query.endswith(b"?"):
                    # Every fifth reading takes 0.7 s: its midpoint lies 0.35 s back, beyond the bound of 0.25 s.
                    time.sleep(0.7 if chance.random() < 0.2 else 0.01)
                    reply = b"%.5E" % (5.0 + chance.gauss(0, 0.002))
                else:
                    continue
                try:
                    client.sendall(reply + b"\n")
                except ConnectionError:
                    break
