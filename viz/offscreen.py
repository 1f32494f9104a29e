"""Off-screen drawing on any machine: which OpenGL to ask VTK for, decided before VTK tries one and complains."""

from __future__ import annotations

import ctypes
import os
import sys
from functools import cache

from model.errors import DrawingError

# VTK reads this when it makes its first window.
VARIABLE = "VTK_DEFAULT_OPENGL_WINDOW"
EGL_WINDOW, OSMESA_WINDOW = "vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow"
EGL_LIBRARY, X_LIBRARY = "libEGL.so.1", "libX11.so.6"
# The names under which VTK itself looks for OSMesa.
OSMESA_LIBRARIES = ("libOSMesa.so.8", "libOSMesa.so.6", "libOSMesa.so")
MOST_DEVICES = 16


def prepare() -> None:
    """Choose a way to draw without a window; to be called before the first plotter is made.

    Raises:
        DrawingError: this machine has no OpenGL that works without a screen.

    """
    if sys.platform != "linux" or VARIABLE in os.environ:
        return
    chosen = _choice()
    if chosen is not None:
        os.environ[VARIABLE] = chosen


@cache
def _choice() -> str | None:
    """The window class to ask for; None where VTK's own first choice, X, will do."""
    if os.environ.get("DISPLAY") and _x_answers():
        return None
    if _egl_works():
        return EGL_WINDOW
    if any(_library(name) is not None for name in OSMESA_LIBRARIES):
        return OSMESA_WINDOW
    raise DrawingError(
        "This machine has no screen and no OpenGL that draws without one; "
        "install it (on Debian or Ubuntu: apt-get install libegl1 libgl1-mesa-dri) and try again."
    )


def _library(name: str) -> ctypes.CDLL | None:
    try:
        return ctypes.CDLL(name)
    except OSError:
        return None


def _x_answers() -> bool:
    """Whether the X server that DISPLAY names can be reached; VTK would stop the program if it cannot."""
    library = _library(X_LIBRARY)
    if library is None:
        return False
    library.XOpenDisplay.restype = ctypes.c_void_p
    library.XOpenDisplay.argtypes = [ctypes.c_char_p]
    library.XCloseDisplay.argtypes = [ctypes.c_void_p]
    display = library.XOpenDisplay(None)
    if not display:
        return False
    library.XCloseDisplay(display)
    return True


def _egl_works() -> bool:
    """Whether EGL is installed together with a driver that starts; the library alone draws nothing."""
    # Mesa otherwise says on the screen which drivers it does not find.
    os.environ.setdefault("EGL_LOG_LEVEL", "fatal")
    library = _library(EGL_LIBRARY)
    if library is None:
        return False
    library.eglGetProcAddress.restype = ctypes.c_void_p
    library.eglGetProcAddress.argtypes = [ctypes.c_char_p]
    library.eglInitialize.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p]
    library.eglTerminate.argtypes = [ctypes.c_void_p]
    for display in _egl_displays(library):
        if display and library.eglInitialize(display, None, None):
            library.eglTerminate(display)
            return True
    return False


def _egl_displays(library: ctypes.CDLL) -> list[int | None]:
    """Displays to try, in the order in which VTK tries them: each graphics device, then the default."""
    query = library.eglGetProcAddress(b"eglQueryDevicesEXT")
    platform = library.eglGetProcAddress(b"eglGetPlatformDisplayEXT")
    displays: list[int | None] = []
    if query and platform:
        devices, count = (ctypes.c_void_p * MOST_DEVICES)(), ctypes.c_int()
        list_devices = ctypes.CFUNCTYPE(ctypes.c_uint, ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p)(query)
        display_of = ctypes.CFUNCTYPE(ctypes.c_void_p, ctypes.c_uint, ctypes.c_void_p, ctypes.c_void_p)(platform)
        device_platform = 0x313F  # EGL_PLATFORM_DEVICE_EXT
        if list_devices(MOST_DEVICES, devices, ctypes.byref(count)):
            displays = [display_of(device_platform, devices[number], None) for number in range(count.value)]
    library.eglGetDisplay.restype = ctypes.c_void_p
    library.eglGetDisplay.argtypes = [ctypes.c_void_p]
    return [*displays, library.eglGetDisplay(None)]
