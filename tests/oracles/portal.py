"""A desktop whose file dialog has somebody in it who always chooses the same thing.

Arguments: the file or folder to choose; `nothing` closes the dialog without a choice. It takes the portal's name on the
session bus, says `ready`, and then tells each dialog that is opened, a line each: the method and the title.

Source: freedesktop.org, XDG Desktop Portal, org.freedesktop.portal.FileChooser and org.freedesktop.portal.Request.
"""

import pathlib
import sys
import time

from jeepney import HeaderFields, MessageType, new_method_return, new_signal, DBusAddress
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import open_dbus_connection

chosen = sys.argv[1]
bus = open_dbus_connection(bus="SESSION")
bus.send_and_get_reply(message_bus.RequestName("org.freedesktop.portal.Desktop"))
print("ready", flush=True)

while True:
    asked = bus.receive()
    if asked.header.message_type != MessageType.method_call:
        continue
    fields = asked.header.fields
    member = fields.get(HeaderFields.member)
    if fields.get(HeaderFields.interface) == "org.freedesktop.DBus.Properties":
        bus.send(new_method_return(asked, "v", (("u", 4),)))
    elif member in ("OpenFile", "SaveFile"):
        _, title, options = asked.body
        who = fields[HeaderFields.sender].removeprefix(":").replace(".", "_")
        handle = f"/org/freedesktop/portal/desktop/request/{who}/{options['handle_token'][1]}"
        bus.send(new_method_return(asked, "o", (handle,)))
        print(member, title, flush=True)
        # Nobody chooses at once.
        time.sleep(0.6)
        request = DBusAddress(handle, interface="org.freedesktop.portal.Request")
        answer = (1, {}) if chosen == "nothing" else (0, {"uris": ("as", [pathlib.Path(chosen).resolve().as_uri()])})
        bus.send(new_signal(request, "Response", "ua{sv}", answer))
