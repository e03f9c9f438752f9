"""Drops a file on a window of an X display, as a file manager does.

Arguments: the display, the window's number, the file. Ends with 0 once the window has taken the drop.

Source: freedesktop.org, Drag-and-Drop Protocol for the X Window System (XDND), version 5.
"""

import pathlib
import sys
import time

from Xlib import X, display
from Xlib.protocol import event

name, number, file = sys.argv[1:]
here = display.Display(name)
target = here.create_resource_object("window", int(number))
source = here.screen().root.create_window(0, 0, 1, 1, 0, X.CopyFromParent)
atom = here.intern_atom
text = (pathlib.Path(file).resolve().as_uri() + "\r\n").encode()


def tell(kind, *data):
    """A client message of five 32-bit words to the target."""
    words = [source.id, *data] + [0] * (4 - len(data))
    target.send_event(event.ClientMessage(window=target, client_type=atom(kind), data=(32, words)))
    here.flush()


def wait_for(kind, patience_s=20.0):
    """Answers the target's questions for the data until it tells `kind`."""
    until = time.monotonic() + patience_s
    while time.monotonic() < until:
        if not here.pending_events():
            time.sleep(0.01)
            continue
        told = here.next_event()
        if told.type == X.SelectionRequest:
            told.requestor.change_property(told.property, told.target, 8, text)
            told.requestor.send_event(
                event.SelectionNotify(
                    time=told.time,
                    requestor=told.requestor,
                    selection=told.selection,
                    target=told.target,
                    property=told.property,
                )
            )
            here.flush()
        elif told.type == X.ClientMessage and told.client_type == atom(kind):
            return told
    sys.exit(f"no {kind} within {patience_s:.0f} s")


source.set_selection_owner(atom("XdndSelection"), X.CurrentTime)
here.flush()
place = target.translate_coords(here.screen().root, 0, 0)
middle = (abs(place.x) + 400) << 16 | (abs(place.y) + 300)
tell("XdndEnter", 5 << 24, atom("text/uri-list"))
tell("XdndPosition", 0, middle, X.CurrentTime, atom("XdndActionCopy"))
status = wait_for("XdndStatus")
if not status.data[1][1] & 1:
    sys.exit("the window takes no drop")
tell("XdndDrop", 0, X.CurrentTime)
wait_for("XdndFinished")
