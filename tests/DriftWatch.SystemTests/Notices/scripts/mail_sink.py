"""A mail server (Debian's python3-aiosmtpd) that notes each letter it takes. What it answers stands in a file: ok, 451 or 554.

usage: mail_sink.py PORT LOG MODE-FILE CERTIFICATE KEY USER PASSWORD [tls]
It speaks STARTTLS with the certificate, or with 'tls' TLS from the start, and takes letters from that user only. An address that begins with 'gone' is refused for good.
"""
import json
import ssl
import sys
import time
from email import message_from_bytes
from email.policy import default

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

PORT, LOG, MODE, CERTIFICATE, KEY, USER, PASSWORD = sys.argv[1:8]


def mode():
    with open(MODE) as file:
        return file.read().strip()


class Sink:
    async def handle_RCPT(self, server, session, envelope, address, options):
        if address.startswith("gone"):
            return "550 5.1.1 no such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if mode() != "ok":
            return mode() + " not now"
        letter = message_from_bytes(envelope.content, policy=default)
        line = {"at": time.time(), "to": envelope.rcpt_tos, "id": letter["Message-ID"], "subject": letter["Subject"],
                "text": letter.get_content(), "tls": session.ssl is not None or "tls" in sys.argv[8:]}
        with open(LOG, "a") as file:
            file.write(json.dumps(line) + "\n")
        return "250 2.0.0 taken"


def authenticate(server, session, envelope, mechanism, data):
    sound = (data.login, data.password) == (USER.encode(), PASSWORD.encode())
    return AuthResult(success=sound, handled=sound)  # not handled: the server says 535


context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
context.load_cert_chain(CERTIFICATE, KEY)
how = {"ssl_context": context, "auth_require_tls": False} if "tls" in sys.argv[8:] else {"tls_context": context, "require_starttls": True}
controller = Controller(Sink(), hostname="127.0.0.1", port=int(PORT), authenticator=authenticate, auth_required=True, **how)
controller.start()
print("READY", flush=True)
while True:
    time.sleep(60)
