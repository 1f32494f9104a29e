"""From the drawing library to a picture: reading pixels and depths, smoothing edges, projecting points."""

from __future__ import annotations

from functools import reduce
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray
from PIL import Image
from vtkmodules.vtkCommonCore import vtkFloatArray, vtkUnsignedCharArray

from model.spatial import Array, dot
from viz.occlusion import Depths, occlusion
from viz.studio import OVERSAMPLE
from viz.views import VIEW_ANGLE, Camera

Pixels = NDArray[np.uint8]


def smoothed(pixels: Pixels, depths: Depths | None = None) -> Image.Image:
    """A picture with smooth edges of one drawn several times as large, with contact shadows where depths are given.

    No method of the stage, so that a thread may do it.
    """
    picture = Image.fromarray(pixels[::-1]).reduce(OVERSAMPLE).transpose(Image.Transpose.FLIP_TOP_BOTTOM)
    if depths is None:
        return picture
    shade = Image.fromarray(np.rint(255.0 * (1.0 - occlusion(depths))).astype(np.uint8))
    black = Image.new("RGB", picture.size)
    return Image.composite(picture, black, shade)


def read_pixels(window: Any, size: tuple[int, int]) -> Pixels:
    """What was drawn, (height, width, 3), `OVERSAMPLE` times as large as `size` each way; upside down in memory."""
    width, height = (side * OVERSAMPLE for side in size)
    values = vtkUnsignedCharArray()
    window.GetPixelData(0, 0, width - 1, height - 1, 0, values, 0)
    return np.asarray(pv.convert_array(values)).reshape(height, width, 3)[::-1]


def read_depths(window: Any, size: tuple[int, int], camera: Camera, reach: tuple[float, float]) -> Depths:
    """Depth (height, width) of each pixel in px of the picture at that depth, infinite where nothing is drawn.

    With a perspective camera the scale f / d changes with the distance d: the depth in px is the integral f ln d.

    Args:
        window: what was drawn in.
        size: width and height of the picture.
        camera: it was drawn with.
        reach: the nearest and farthest distance in mm that it shows.

    """
    width, height = (side * OVERSAMPLE for side in size)
    values = vtkFloatArray()
    window.GetZbufferData(0, 0, width - 1, height - 1, values)
    # The nearest of each pixel: a slit that is thinner than one is no depth to fall into.
    cells = np.asarray(pv.convert_array(values)).reshape(size[1], OVERSAMPLE, size[0], OVERSAMPLE)[::-1]
    share = reduce(np.minimum, (cells[:, row, :, column] for row in range(OVERSAMPLE) for column in range(OVERSAMPLE)))
    near, far = (np.float32(edge) for edge in reach)
    if camera.half_height is not None:
        depths = (near + share * (far - near)) * np.float32(size[1] / (2.0 * camera.half_height))
    else:
        depths = -np.log(far - share * (far - near)) * np.float32(size[1] / 2.0 / np.tan(np.radians(VIEW_ANGLE / 2.0)))
    return np.where(share < 1.0, depths, np.float32(np.inf))


def projected(points: Array, lens: Any, size: tuple[int, int]) -> Array:
    """Where points (..., 3) are in a picture drawn with `lens`: (..., 2) in px from its upper left corner."""
    width, height = size
    held = lens.GetCompositeProjectionTransformMatrix(width / height, -1.0, 1.0)
    matrix: Array = pv.array_from_vtkmatrix(held).astype(float)
    flat = np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1) @ matrix.T
    seen = flat[..., :2] / flat[..., 3:]
    return np.asarray((seen * [0.5, -0.5] + 0.5) * [width, height])


def behind(renderer: Any, points: Array) -> NDArray[np.bool_]:
    """Which of some points (k, 3) have something solid before them in what a renderer has just drawn."""
    width, height = renderer.GetRenderWindow().GetSize()
    found = np.zeros(len(points), dtype=bool)
    for number, point in enumerate(points.tolist()):
        renderer.SetWorldPoint(*point, 1.0)
        renderer.WorldToDisplay()
        across, up, depth = renderer.GetDisplayPoint()
        if 0.0 <= across < width and 0.0 <= up < height:
            found[number] = renderer.GetZ(int(across), int(up)) < depth
    return found


def pixels_per_mm(points: Array, camera: Camera, height: int) -> Array:
    """Scale (k,) in px per mm at points (k, 3) of a picture of a height in px."""
    if camera.half_height is not None:
        return np.full(len(points), height / (2.0 * camera.half_height))
    depth = np.maximum(dot(camera.position - points, camera.direction), 1.0)
    return np.asarray(height / (2.0 * depth * np.tan(np.radians(VIEW_ANGLE / 2.0))))
