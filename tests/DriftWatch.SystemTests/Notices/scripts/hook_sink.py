"""A web server that notes what it is given. What it answers stands in a file: ok, a status such as 500 or 429, hang, or drop.

usage: hook_sink.py PORT LOG MODE-FILE [SECRET]
Each request is a line of JSON in LOG: method, path, headers, body, and whether the signature is right by Python's own hmac.
"""
import hmac
import json
import sys
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PORT, LOG, MODE = int(sys.argv[1]), sys.argv[2], sys.argv[3]
SECRET = sys.argv[4].encode() if len(sys.argv) > 4 else None
LOCK = threading.Lock()


def mode():
    with open(MODE) as file:
        return file.read().strip()


class Sink(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def answer(self):
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        now = mode()
        signed = None
        if SECRET is not None and self.headers.get("DriftWatch-Signature"):
            stamp = self.headers["DriftWatch-Timestamp"]
            due = "v1=" + hmac.new(SECRET, stamp.encode() + b"." + body, "sha256").hexdigest()
            signed = hmac.compare_digest(due, self.headers["DriftWatch-Signature"]) and abs(time.time() - int(stamp)) < 300
        line = {"at": time.time(), "method": self.command, "path": self.path, "mode": now, "signed": signed,
                "headers": {k.lower(): v for k, v in self.headers.items()}, "body": body.decode()}
        with LOCK, open(LOG, "a") as file:
            file.write(json.dumps(line) + "\n")
        if now == "hang":
            time.sleep(60)
        if now in ("hang", "drop"):
            self.close_connection = True
            return
        status = 204 if now == "ok" else int(now)
        self.send_response(status)
        if status == 429:
            self.send_header("Retry-After", "3")
        self.send_header("Content-Length", "0")
        self.end_headers()

    do_POST = do_GET = do_OPTIONS = answer

    def log_message(self, *args):
        pass


server = ThreadingHTTPServer(("127.0.0.1", PORT), Sink)
server.daemon_threads = True
print("READY", flush=True)
server.serve_forever()
