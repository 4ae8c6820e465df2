"""A small rasteriser on OpenGL without a screen: two shadow maps and a main pass."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import moderngl
import numpy as np

from . import shaders
from .mesh import Mesh

SHADOW_PX = 1024
SUPERSAMPLING = 1.3


@dataclass(frozen=True)
class Light:
    """Light of a place: direction towards the main light, and linear colours."""

    key_dir: tuple[float, float, float] = (-0.25, -0.55, 0.8)
    key_colour: tuple[float, float, float] = (0.75, 0.72, 0.66)
    sky_colour: tuple[float, float, float] = (0.55, 0.57, 0.6)
    ground_colour: tuple[float, float, float] = (0.24, 0.22, 0.2)
    haze: tuple[float, float, float] = (0.6, 0.65, 0.7)
    haze_per_m: float = 0.0
    backdrop: tuple[float, float, float] = (0.55, 0.62, 0.7)


def _light_matrix(direction: np.ndarray, centre: np.ndarray, half_m: float) -> np.ndarray:
    d = np.asarray(direction, float)
    d /= np.linalg.norm(d)
    u = np.cross(d, [0, 1.0, 0] if abs(d[1]) < 0.9 else [1.0, 0, 0])
    u /= np.linalg.norm(u)
    rows = np.stack([u, np.cross(d, u), -d])
    m = np.eye(4)
    m[:3, :3] = rows / half_m
    m[2, :3] /= 1.5
    m[:3, 3] = -m[:3, :3] @ centre
    return m.astype("f4")


def _bytes(matrix: np.ndarray) -> bytes:
    return np.ascontiguousarray(matrix.T, "f4").tobytes()


class Raster:
    """Draws meshes and figures into pictures of one size.

    A thing is a pair (vertex array for the picture, vertex array for shadows); make them with
    `solid` and `figure`, then pass what is to be seen to `draw`.
    """

    def __init__(self, size_px: tuple[int, int], light: Light, half_m: float = 2.6):
        self.size = size_px
        # Drawn larger and shrunk: on a processor that is quicker than multisampling, because
        # bodies are made of very small triangles.
        self.drawn = tuple(round(SUPERSAMPLING * v) for v in size_px)
        self.light = light
        ctx = self.ctx = moderngl.create_standalone_context(backend="egl")
        self.scene = ctx.program(shaders.SCENE_VERTEX, shaders.SCENE_FRAGMENT)
        self.person = ctx.program(shaders.FIGURE_VERTEX, shaders.FIGURE_FRAGMENT)
        self.depth = ctx.program(shaders.DEPTH_VERTEX, shaders.DEPTH_FRAGMENT)
        self.target, self.still = (
            ctx.framebuffer([ctx.renderbuffer(self.drawn, 4)],
                            ctx.depth_renderbuffer(self.drawn)) for _ in range(2))
        self.still_of: object = None
        self.maps = []
        for direction in (light.key_dir, (0.02, 0.03, 1.0)):
            texture = ctx.depth_texture((SHADOW_PX, SHADOW_PX))
            texture.compare_func = "<="
            texture.repeat_x = texture.repeat_y = False
            target = ctx.framebuffer(depth_attachment=texture)
            self.maps.append((direction, texture, target))
        self.half_m = half_m
        grain = np.random.default_rng(5).integers(0, 256, 32**3, dtype=np.uint8)
        self.grain = ctx.texture3d((32, 32, 32), 1, grain.tobytes())
        self.grain.filter = (moderngl.LINEAR, moderngl.LINEAR)
        self.grain.use(2)
        key = np.asarray(light.key_dir, float)
        for program in (self.scene, self.person):
            self._set(program, key_dir=tuple(key / np.linalg.norm(key)),
                      key_colour=light.key_colour, sky_colour=light.sky_colour,
                      ground_colour=light.ground_colour, haze=light.haze,
                      haze_per_m=light.haze_per_m, key_map=0, sky_map=1, noise_map=2)

    @staticmethod
    def _set(program, **values) -> None:
        for name, value in values.items():
            if name in program:
                program[name].value = value

    def solid(self, mesh: Mesh):
        """Something that does not bend."""
        rows = mesh.packed()
        buffer = self.ctx.buffer(rows.tobytes())
        return Solid(
            self.ctx.vertex_array(self.scene, [
                (buffer, "3f 3f 3f 1f", "in_position", "in_normal", "in_colour", "in_kind")]),
            self.ctx.vertex_array(self.depth, [(buffer, "3f 28x", "in_position")]),
            np.eye(4, dtype="f4"), buffer)

    def figure(self, dressed):
        """A person; `dressed` comes from `dress.dress`."""
        count = len(dressed.rest)
        moving = self.ctx.buffer(reserve=count * 24)
        fixed = self.ctx.buffer(
            np.concatenate([dressed.rest, dressed.cut, dressed.part], 1).astype("f4").tobytes())
        index = self.ctx.buffer(dressed.faces.astype("i4").tobytes())
        return Person(
            self.ctx.vertex_array(self.person, [
                (moving, "3f 3f", "in_position", "in_normal"),
                (fixed, "3f 4f 4f", "in_rest", "in_cut", "in_part")], index),
            self.ctx.vertex_array(self.depth, [(moving, "3f 12x", "in_position")], index),
            moving, dressed)

    def draw(self, camera, things, backdrop=(), focus_m=(-0.6, 0.0, 0.6), drift=(0.0, 0.0),
             now_s: float = 0.0) -> np.ndarray:
        """A picture (height, width, 3) uint8.

        `backdrop` holds things that neither move nor take shadows from what moves; while the
        camera stands still they are drawn only once.
        """
        ctx = self.ctx
        matrices = [_light_matrix(np.array(d), np.array(focus_m), self.half_m)
                    for d, _, _ in self.maps]
        for m, (_, _, target) in zip(matrices, self.maps, strict=True):
            target.use()
            ctx.viewport = (0, 0, SHADOW_PX, SHADOW_PX)
            target.clear(depth=1.0)
            ctx.enable_only(moderngl.DEPTH_TEST)
            self.depth["clip"].write(_bytes(m))
            for thing in things:
                if thing.casts:
                    self.depth["model"].write(_bytes(thing.model))
                    thing.shadow.render()
        clip, eye = camera.clip_matrix(), tuple(camera.place()[1])
        for k, texture in enumerate((self.maps[0][1], self.maps[1][1], self.grain)):
            texture.use(k)
        for program in (self.scene, self.person):
            program["clip"].write(_bytes(clip))
            program["key_matrix"].write(_bytes(matrices[0]))
            program["sky_matrix"].write(_bytes(matrices[1]))
            self._set(program, eye=eye, drift=tuple(drift), now=now_s)
        if self.still_of != camera:
            self._paint(self.still, backdrop, clear=True)
            self.still_of = camera
        ctx.copy_framebuffer(self.target, self.still)
        self._paint(self.target, things)
        data = self.target.read(components=3, alignment=1)
        picture = np.frombuffer(data, np.uint8).reshape(self.drawn[1], self.drawn[0], 3)[::-1]
        return cv2.resize(picture, self.size, interpolation=cv2.INTER_AREA)

    def _paint(self, target, things, clear: bool = False) -> None:
        target.use()
        self.ctx.viewport = (0, 0, *self.drawn)
        if clear:
            target.clear(*(v ** (1 / 2.2) for v in self.light.backdrop), 1.0, depth=1.0)
        self.ctx.enable_only(moderngl.DEPTH_TEST)
        for thing in things:
            thing.prepare(self)
            thing.shown.render()


class Solid:
    """A mesh on the graphics side with a movable place."""

    casts = True

    def __init__(self, shown, shadow, model, buffer):
        self.shown, self.shadow, self.model, self.buffer = shown, shadow, model, buffer

    def place(self, shift=(0.0, 0.0, 0.0), rotation: np.ndarray | None = None) -> Solid:
        """Move it, from where it was made."""
        self.model = np.eye(4, dtype="f4")
        if rotation is not None:
            self.model[:3, :3] = rotation
        self.model[:3, 3] = shift
        return self

    def replace(self, mesh: Mesh) -> Solid:
        """Same number of corners, new shape."""
        self.buffer.write(mesh.packed().tobytes())
        return self

    def prepare(self, raster: Raster) -> None:
        """Tell the shader where it stands."""
        raster.scene["model"].write(_bytes(self.model))


class Person:
    """A body on the graphics side."""

    casts = True
    model = np.eye(4, dtype="f4")

    def __init__(self, shown, shadow, moving, dressed):
        self.shown, self.shadow, self.moving, self.dressed = shown, shadow, moving, dressed

    def pose(self, transforms: np.ndarray) -> Person:
        """Skin it with bone matrices (B, 3, 4)."""
        self.moving.write(self.dressed.skinned(transforms).tobytes())
        return self

    def prepare(self, raster: Raster) -> None:
        """Tell the shader what it wears."""
        for name, value in self.dressed.look.uniforms().items():
            raster.person[name].value = value
