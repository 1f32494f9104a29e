"""The live window itself: whether this machine can open one, and an empty lit one."""

from __future__ import annotations

import ctypes
import os
import sys
from typing import Any

from model.errors import DrawingError
from viz.offscreen import VARIABLE, X_LIBRARY

X_WINDOW = "vtkXOpenGLRenderWindow"
GLX_LIBRARY = "libGL.so.1"
# Drawn on the processor, every sample costs time; a graphics card has them nearly for free.
SOFTWARE = ("llvmpipe", "softpipe", "swrast", "SwiftShader")
CARD_SAMPLES, REST_SAMPLES = 8, 4
# Pixels an inch at which a window is drawn in its plain size.
PLAIN_DPI = 96
INSTEAD = "open it on a machine with a screen, or draw pictures with fulltravel still"


def check_screen() -> None:
    """Refuse to open a window where there is no screen to open it on; the drawing library would crash.

    Raises:
        DrawingError: no screen, no X server that answers, or one without OpenGL.

    """
    if sys.platform != "linux":
        return
    chosen = os.environ.get(VARIABLE)
    if chosen not in (None, X_WINDOW):
        raise DrawingError(f"{VARIABLE} is set to {chosen}, which opens no window; unset it and try again.")
    display = os.environ.get("DISPLAY")
    if not display:
        wayland = " (Wayland alone will not do; start Xwayland)" if os.environ.get("WAYLAND_DISPLAY") else ""
        raise DrawingError(f"There is no screen to open a window on: DISPLAY is not set{wayland}; {INSTEAD}.")
    try:
        x, glx = ctypes.CDLL(X_LIBRARY), ctypes.CDLL(GLX_LIBRARY)
    except OSError:
        raise DrawingError(
            "A window needs the libraries of X and OpenGL; install them "
            "(on Debian or Ubuntu: apt-get install libx11-6 libgl1 libgl1-mesa-dri) and try again."
        ) from None
    x.XOpenDisplay.restype = ctypes.c_void_p
    x.XOpenDisplay.argtypes = [ctypes.c_char_p]
    glx.glXQueryExtension.argtypes = [ctypes.c_void_p] * 3
    server = x.XOpenDisplay(None)
    if not server:
        raise DrawingError(f"The screen {display} that DISPLAY names does not answer; {INSTEAD}.")
    # The connection stays open: a server that has no other client starts over when its last one leaves, and would turn
    # the window away meanwhile.
    if not glx.glXQueryExtension(server, None, None):
        raise DrawingError(f"The screen {display} cannot show OpenGL; {INSTEAD}.")


def open_plotter(size: tuple[int, int], title: str) -> Any:
    """An empty lit window of `size` px in which nothing is drawn yet.

    Raises:
        DrawingError: as `check_screen`.

    """
    check_screen()
    import pyvista as pv

    from viz.studio import light_up

    if sys.platform == "linux":
        os.environ[VARIABLE] = X_WINDOW
    plotter: Any = pv.Plotter(off_screen=False, notebook=False, window_size=list(size), lighting="none", title=title)
    light_up(plotter)
    # Every key, press and drag is the window's own: nothing of the library may act on it as well.
    plotter.iren.interactor.RemoveAllObservers()
    plotter.iren.interactor.SetInteractorStyle(None)
    plotter.iren.interactor.Initialize()
    plotter.render_window.SetWindowName(title)
    return plotter


def has_card(plotter: Any) -> bool:
    """Whether a graphics card draws, and not the processor; to be asked once something was drawn."""
    told = plotter.render_window.ReportCapabilities()
    return not any(name in told for name in SOFTWARE)


def smooth_edges(plotter: Any, samples: int) -> None:
    """Draw with so many samples for each pixel from now on."""
    plotter.render_window.SetMultiSamples(samples)


def screen_scale(plotter: Any) -> float:
    """How much larger than plain the screen wants things, for one of fine pixels."""
    window = plotter.render_window
    return max(1.0, window.GetDPI() / PLAIN_DPI) if window.DetectDPI() else 1.0
