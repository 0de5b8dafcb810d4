"""Draws meshes as the side camera sees them, without a window (OpenGL through EGL)."""

from __future__ import annotations

import moderngl
import numpy as np
from numpy.typing import NDArray

from demo_clips.render.camera import SideCamera
from demo_clips.render.garments import POCKET_DOWN_M, POCKET_HALF_WIDTH_M
from demo_clips.render.kit import Kit
from demo_clips.render.light import Light
from demo_clips.render.shapes import Mesh, rgb

Array = NDArray[np.float64]
Image = NDArray[np.uint8]

SAMPLES = 4
VERTEX_LAYOUT = "3f 3f 3f 1f 3f 3f"
VERTEX_FIELDS = ("position", "normal", "colour", "material", "garments", "place")
VERTEX_FLOATS = 16

VERTEX_SHADER = """#version 330
in vec3 position; in vec3 normal; in vec3 colour; in float material; in vec3 garments;
in vec3 place;
uniform mat4 clip_from_bike;
out vec3 at; out vec3 facing; out vec3 base; out float kind; out vec3 depth;
out vec3 spot;
void main() {
    gl_Position = clip_from_bike * vec4(position, 1.0);
    at = position; facing = normal; base = colour; kind = material; depth = garments; spot = place;
}"""

# Garment depths are thresholded a pixel at a time, so hems are crisp at any mesh density.
FRAGMENT_SHADER = """#version 330
in vec3 at; in vec3 facing; in vec3 base; in float kind; in vec3 depth;
in vec3 spot;
uniform vec3 eye; uniform vec3 to_light; uniform vec3 key; uniform vec3 sky; uniform vec3 ground;
uniform vec3 jersey; uniform vec3 shorts; uniform vec3 socks;
uniform vec3 trim; uniform float patterned; uniform vec3 pocket; uniform sampler2D picture;
out vec4 pixel;
float hash(vec2 cell) { return fract(sin(dot(cell, vec2(12.9898, 78.233))) * 43758.5453); }
float cloud(vec2 at_cells) {
    vec2 cell = floor(at_cells), f = fract(at_cells); f = f * f * (3.0 - 2.0 * f);
    return mix(mix(hash(cell), hash(cell + vec2(1, 0)), f.x),
               mix(hash(cell + vec2(0, 1)), hash(cell + vec2(1, 1)), f.x), f.y);
}
vec3 shorts_cloth() {
    vec3 cloth = shorts;
    float zigzag = spot.x + 0.55 * abs(mod(spot.y, 0.09) - 0.045);
    if (patterned > 0.5 && fract(zigzag / 0.052) < 0.40) cloth = trim;
    float edge = min(min(spot.x - pocket.x, pocket.y - spot.x), pocket.z - abs(spot.y));
    if (spot.z > 0.0 && edge > 0.0) {
        cloth = shorts * (0.75 + 0.25 * step(0.5, fract((spot.x + spot.y) * 180.0)));
        if (edge < 0.004) cloth = mix(shorts, trim, 0.6);
        if (spot.x - pocket.x < 0.012) cloth = shorts * 0.6;
    }
    return cloth;
}
// What of the picture one pixel covers, as the mean of 4 x 4 places in it: small print stays true.
vec3 printed() {
    vec2 across = dFdx(spot.xy) / 4.0, down = dFdy(spot.xy) / 4.0; vec3 sum = vec3(0.0);
    for (int i = 0; i < 4; i++) for (int j = 0; j < 4; j++) {
        vec2 there = spot.xy + (float(i) - 1.5) * across + (float(j) - 1.5) * down;
        sum += textureGrad(picture, there, across, down).rgb;
    }
    return pow(sum / 16.0, vec3(1.0 / 2.2));
}
void main() {
    vec3 paint = base; float shine = 0.04; int material = int(kind + 0.5);
    vec3 n = normalize(facing); vec3 to_eye = normalize(eye - at);
    if (dot(n, to_eye) < 0.0) n = -n;
    if (material == 1) shine = 0.35;
    if (material == 2) paint *= 0.96 + 0.06 * cloud(at.xy * 3.0) + 0.02 * cloud(at.xy * 60.0);
    if (material == 3) {
        float board = floor(at.z * 7.0);
        paint *= 0.86 + 0.13 * hash(vec2(board, floor(at.x * 0.9 + board * 0.37)))
               + 0.08 * cloud(vec2(at.x * 6.0, at.z * 90.0));
        if (fract(at.z * 7.0) < 0.03) paint *= 0.7;
        vec2 away = vec2((at.x - 0.05) / 1.15, at.z / 0.6);
        paint *= mix(0.6, 1.0, smoothstep(0.5, 1.2, length(away)));
    }
    if (material == 4) { pixel = vec4(paint * 1.1 * min(1.0, dot(sky, vec3(0.65))), 1.0); return; }
    if (material == 6 && max(depth.x, depth.y) <= 0.0) discard;
    if (material == 5 || material == 6) {
        shine = 0.10;
        if (depth.z > 0.0) paint = socks;
        if (depth.y > 0.0) {
            paint = shorts_cloth(); shine = material == 6 ? 0.03 : 0.12;
            if (depth.y < 0.025) paint = min(paint * 1.5, vec3(0.95));
        }
        if (depth.x > 0.0) { paint = jersey; shine = 0.03; if (depth.x < 0.02) paint *= 0.8; }
    }
    if (material == 7) { paint *= printed(); shine = 0.0; }
    vec3 surface = pow(paint, vec3(2.2));
    float towards = max(dot(n, to_light), 0.0);
    vec3 ambient = mix(ground, sky, n.y * 0.5 + 0.5);
    vec3 halfway = normalize(to_light + to_eye);
    float glint = pow(max(dot(n, halfway), 0.0), 28.0) * step(0.0, dot(n, to_light));
    vec3 light = surface * (ambient + key * towards) + key * shine * glint;
    light = light / (1.0 + 0.18 * light);
    pixel = vec4(pow(clamp(light, 0.0, 1.0), vec3(1.0 / 2.2)), 1.0);
}"""


class Renderer:
    """Draws one scene: a still background once, and what moves over it a frame at a time.

    ``picture`` (height, width, 3) is what surfaces of the material PRINT show.
    Close it (or use it as a context manager) to give the graphics context back.
    """

    def __init__(
        self, camera: SideCamera, light: Light, background: Mesh, picture: Image | None = None
    ) -> None:
        self.camera = camera
        self.context = moderngl.create_context(
            standalone=True,
            backend="egl",  # type: ignore[arg-type]
        )
        self.context.enable(moderngl.DEPTH_TEST | moderngl.CULL_FACE)
        self.program = self.context.program(VERTEX_SHADER, FRAGMENT_SHADER)
        if picture is not None:
            self._hang(picture)
        size = (camera.width_px, camera.height_px)
        self._still = self._sampled(size)
        self._moving = self._sampled(size)
        self._plain = self.context.simple_framebuffer(size, components=3)
        mirror = np.array([1.0, 1.0, camera.sign])
        to_light = np.array(light.towards) * mirror
        self._set("eye", camera.position_m)
        self._set("to_light", to_light / np.linalg.norm(to_light))
        self._set("key", np.array(light.key))
        self._set("sky", np.array(light.sky))
        self._set("ground", np.array(light.ground))
        matrix = camera.clip_matrix().T.astype("f4")
        self.program["clip_from_bike"].write(matrix.tobytes())  # type: ignore[union-attr]
        self._still.use()
        self._still.clear(0.5, 0.5, 0.5, 1.0, depth=1.0)
        self._draw(background)

    def __enter__(self) -> Renderer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the graphics context back."""
        self.context.release()

    def _sampled(self, size: tuple[int, int]) -> moderngl.Framebuffer:
        """A frame with several samples a pixel, for smooth edges."""
        return self.context.framebuffer(
            [self.context.renderbuffer(size, 4, samples=SAMPLES)],
            self.context.depth_renderbuffer(size, samples=SAMPLES),
        )

    def _hang(self, picture: Image) -> None:
        """Load the picture with its mip maps, its first row at place 0.

        It is kept as light, not as grey levels, so that the maps average what an eye would.
        """
        height, width, _ = picture.shape
        light = (picture / 255.0) ** 2.2
        texture = self.context.texture(
            (width, height), 3, light.astype("f2").tobytes(), alignment=1, dtype="f2"
        )
        texture.repeat_x = texture.repeat_y = False
        texture.build_mipmaps()
        texture.use(0)

    def _set(self, name: str, vector: Array) -> None:
        self.program[name].value = tuple(float(v) for v in vector)  # type: ignore[union-attr]

    def _wear(self, kit: Kit) -> None:
        """Give the garments drawn next the colours and patterns of a kit."""
        self._set("jersey", rgb(kit.jersey))
        self._set("shorts", rgb(kit.shorts))
        self._set("socks", rgb(kit.socks))
        self._set("trim", rgb(kit.shorts_pattern or kit.shorts))
        self.program["patterned"].value = float(kit.shorts_pattern is not None)  # type: ignore[union-attr]
        pocket = (*POCKET_DOWN_M, POCKET_HALF_WIDTH_M) if kit.has_thigh_pocket else (0.0, 0.0, 0.0)
        self._set("pocket", np.array(pocket))

    def _draw(self, mesh: Mesh) -> None:
        rows = np.empty((len(mesh.points_m), VERTEX_FLOATS), dtype="f4")
        rows[:, 0:3] = mesh.points_m
        rows[:, 3:6] = mesh.normals
        rows[:, 6:9] = mesh.colours
        rows[:, 9] = mesh.materials
        rows[:, 10:13] = mesh.garments_m
        rows[:, 13:16] = mesh.places_m
        vertices = self.context.buffer(rows.tobytes())
        corners = self.context.buffer(mesh.triangles.astype("i4").tobytes())
        array = self.context.vertex_array(
            self.program, [(vertices, VERTEX_LAYOUT, *VERTEX_FIELDS)], corners
        )
        array.render()
        for part in (array, vertices, corners):
            part.release()

    def frame(self, moving: list[tuple[Mesh, Kit | None]]) -> Image:
        """(height, width, 3) red, green, blue image of the background and the moving meshes.

        Each mesh comes with the kit whose colours its garments have, if it has garments.
        """
        self.context.copy_framebuffer(self._moving, self._still)
        self._moving.use()
        for mesh, kit in moving:
            if kit is not None:
                self._wear(kit)
            self._draw(mesh)
        self.context.copy_framebuffer(self._plain, self._moving)
        raw = np.frombuffer(self._plain.read(components=3, alignment=1), dtype=np.uint8)
        image = raw.reshape(self.camera.height_px, self.camera.width_px, 3)[::-1]
        return np.ascontiguousarray(image)
