"""Pictures over the window: letters and controls drawn by our own fonts, pixel for pixel."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from vtkmodules.util.numpy_support import numpy_to_vtk
from vtkmodules.vtkCommonCore import vtkPoints, vtkUnsignedCharArray
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkImageData, vtkPolyData
from vtkmodules.vtkRenderingCore import vtkPolyDataMapper2D, vtkRenderer, vtkTexture, vtkTexturedActor2D

from viz.labels import Box

Pixels = NDArray[np.uint8]
_shared: Any = numpy_to_vtk  # the library ships this function without annotations


class Overlay:
    """A layer before everything else in a window, with the pictures that stand in it."""

    def __init__(self, plotter: Any) -> None:
        """Lay it over a plotter's window."""
        self._window = plotter.render_window
        self._window.SetNumberOfLayers(2)
        self.renderer = vtkRenderer()
        self.renderer.SetLayer(1)
        self.renderer.InteractiveOff()
        self._window.AddRenderer(self.renderer)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the window in px."""
        width, height = self._window.GetSize()
        return int(width), int(height)

    def sprite(self) -> Sprite:
        """One more picture, before those that were made earlier."""
        return Sprite(self)


class Sprite:
    """One picture in an overlay; only what has changed goes to the graphics driver."""

    def __init__(self, overlay: Overlay) -> None:
        """Begin with none."""
        self._overlay = overlay
        self._shown: Image.Image | None = None
        self._pixels: Pixels | None = None
        self._values: Any = None
        self._corners, self._height = (0, 0, 0, 0), 0
        self._points = vtkPoints()
        self._points.SetNumberOfPoints(4)
        self._data = vtkImageData()
        texture = vtkTexture()
        texture.SetInputDataObject(self._data)
        texture.InterpolateOff()
        texture.RepeatOff()
        cells, corners = vtkCellArray(), vtkUnsignedCharArray()
        cells.InsertNextCell(4, (0, 1, 2, 3))
        corners.SetNumberOfComponents(2)
        corners.SetNumberOfTuples(4)
        # Pictures begin with their uppermost line.
        for number, corner in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
            corners.SetTuple2(number, *corner)
        quad = vtkPolyData()
        quad.SetPoints(self._points)
        quad.SetPolys(cells)
        quad.GetPointData().SetTCoords(corners)
        mapper = vtkPolyDataMapper2D()
        mapper.SetInputData(quad)
        self._actor = vtkTexturedActor2D()
        self._actor.SetMapper(mapper)
        self._actor.SetTexture(texture)
        self._actor.VisibilityOff()
        overlay.renderer.AddViewProp(self._actor)

    @property
    def box(self) -> Box | None:
        """Where it stands: left, top, right, bottom in px from the window's upper left corner; None where hidden."""
        if not self._actor.GetVisibility():
            return None
        left, top, width, height = self._corners
        return left, top, left + width, top + height

    def show(self, picture: Image.Image, left: float, top: float) -> None:
        """Show an RGBA picture with its upper left corner at a place in px from the window's."""
        if picture is not self._shown:
            self._shown = picture
            self._take(np.asarray(picture))
        self._stand(round(left), round(top), *picture.size)

    def show_pixels(self, pixels: Pixels, left: float, top: float) -> None:
        """Show pixels (height, width, 4) that may have been painted over since they were last shown."""
        self._shown = None
        if pixels is self._pixels:
            self._values.Modified()
            self._data.Modified()
        else:
            self._take(pixels)
        self._stand(round(left), round(top), pixels.shape[1], pixels.shape[0])

    def _take(self, pixels: Pixels) -> None:
        # The library reads these very pixels: they have to stay.
        self._pixels = pixels
        self._values = _shared(pixels.reshape(-1, 4), deep=False)
        self._data.SetDimensions(pixels.shape[1], pixels.shape[0], 1)
        self._data.GetPointData().SetScalars(self._values)
        self._data.Modified()

    def _stand(self, left: int, top: int, wide: int, tall: int) -> None:
        corners, height = (left, top, wide, tall), self._overlay.size[1]
        if (*corners, height) != (*self._corners, self._height):
            self._corners, self._height = corners, height
            low, high = height - top - tall, height - top
            for number, (x, y) in enumerate(((left, low), (left + wide, low), (left + wide, high), (left, high))):
                self._points.SetPoint(number, x, y, 0.0)
            self._points.Modified()
        self._actor.VisibilityOn()

    def hide(self) -> None:
        """Show nothing."""
        self._actor.VisibilityOff()
