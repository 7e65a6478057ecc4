"""The family's browser.

What lives here: opening an address in it, where there is a screen. What must not: what lies at that address.
"""

import os
import sys
import webbrowser


def show(address: str) -> bool:
    """Open this address in the browser; False where there is none with a screen (a text browser would take the terminal)."""
    on_desktop = sys.platform in ("win32", "darwin") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    return bool(on_desktop) and webbrowser.open(address)
