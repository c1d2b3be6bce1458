"""A notification server on the session's bus (python3-dbus, python3-gi), by the Desktop Notifications Specification.

usage: desktop_sink.py LOG
Each call of Notify is a line of JSON in LOG.
"""
import json
import sys

import dbus
import dbus.service
from dbus.mainloop.glib import DBusGMainLoop
from gi.repository import GLib

DBusGMainLoop(set_as_default=True)
NAME = "org.freedesktop.Notifications"


class Sink(dbus.service.Object):
    @dbus.service.method(NAME, in_signature="susssasa{sv}i", out_signature="u")
    def Notify(self, app, replaces, icon, summary, body, actions, hints, timeout):
        with open(sys.argv[1], "a") as file:
            file.write(json.dumps({"app": str(app), "summary": str(summary), "body": str(body), "urgency": int(hints.get("urgency", 1))}) + "\n")
        return dbus.UInt32(1)

    @dbus.service.method(NAME, in_signature="", out_signature="as")
    def GetCapabilities(self):
        return ["body"]

    @dbus.service.method(NAME, in_signature="", out_signature="ssss")
    def GetServerInformation(self):
        return ("sink", "tests", "1", "1.2")


bus = dbus.SessionBus()
name = dbus.service.BusName(NAME, bus)
sink = Sink(bus, "/org/freedesktop/Notifications")
print("READY", flush=True)
GLib.MainLoop().run()
