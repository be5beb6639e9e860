"""Path tracing with Mitsuba 3. The one file that imports the renderer.

A scene always has the same plugins in the same order (four meshes, a map of the surroundings, a disc lamp, a thin
lens), so that the kernels compiled for the first picture serve every later one.
"""

from __future__ import annotations

import ctypes.util
import gc
import importlib
import os
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firingend_training.scenes.composition import Scene
from firingend_training.scenes.mesh import SurfaceMesh
from firingend_training.scenes.view import View

CUDA, LLVM, SCALAR = "cuda_ad_rgb", "llvm_ad_rgb", "scalar_rgb"
VARIANTS = (CUDA, LLVM, SCALAR)
FUEL_INDEX = 1.4
"""Refractive index of petrol (from memory)."""
_MOST_DROPS_IN_LINE = 8
"""Surfaces of drops that a straight line of sight is followed through."""
_BLOCKING_SYNC = 4
"""``CU_CTX_SCHED_BLOCKING_SYNC`` of the CUDA driver API."""
_STEP_MM = 1e-3
"""How far behind a drop's surface the line of sight goes on."""
_FirstHits = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float32]]
_LLVM_GLOBS = (
    "/usr/lib/llvm-*/lib",
    "/usr/lib/x86_64-linux-gnu",
    "/usr/lib64",
    "/usr/lib",
    "/opt/homebrew/opt/llvm/lib",
)


def find_llvm() -> str | None:
    """Path of an LLVM library that works with the renderer: the newest of 16 to 21.

    Version 15 aborts in code generation, so a lone old library is not offered.
    """
    found: list[tuple[int, str]] = []
    for pattern in _LLVM_GLOBS:
        for folder in Path("/").glob(pattern.lstrip("/")):
            for path in folder.glob("libLLVM*"):
                version = _llvm_version(path.name)
                if version is not None and 16 <= version <= 21:
                    found.append((version, str(path)))
    if found:
        return max(found)[1]
    return ctypes.util.find_library("LLVM")


def _llvm_version(name: str) -> int | None:
    digits = "".join(c if c.isdigit() else " " for c in name.replace("x86_64", "")).split()
    return int(digits[0]) if (digits and ".so" in name) or (".dylib" in name and digits) else None


def has_cuda() -> bool:
    """Whether an NVIDIA driver is installed."""
    return ctypes.util.find_library("cuda") is not None or Path("/proc/driver/nvidia/version").exists()


def _sleep_while_the_card_works() -> None:
    """Have this process sleep when it waits for the card, not spin: the cores are wanted for what surrounds tracing.

    Must come before anything uses the card. Where the driver will not, waiting stays as it was.
    """
    try:
        driver = ctypes.CDLL("libcuda.so.1")
    except OSError:
        return
    card = ctypes.c_int()
    if driver.cuInit(0) == 0 and driver.cuDeviceGet(ctypes.byref(card), 0) == 0:
        driver.cuDevicePrimaryCtxSetFlags_v2(card, _BLOCKING_SYNC)


def choose_variant(asked: str) -> str:
    """The variant to use; ``auto`` takes the graphics card where there is one."""
    if asked != "auto":
        return asked
    return CUDA if has_cuda() else LLVM


class Renderer:
    """Renders scenes in one process; create it once a process, before anything else touches the renderer."""

    def __init__(self, variant: str, depth: int = 6) -> None:
        if variant == LLVM and "DRJIT_LIBLLVM_PATH" not in os.environ:
            library = find_llvm()
            if library:
                os.environ["DRJIT_LIBLLVM_PATH"] = library
        if variant == CUDA:
            _sleep_while_the_card_works()
        mi: Any = importlib.import_module("mitsuba")
        mi.set_variant(variant)
        mi.set_log_level(mi.LogLevel.Error)
        self._mi = mi
        self.variant = variant
        self._integrator = mi.load_dict({"type": "path", "max_depth": depth, "rr_depth": 4})
        self._scene: Any = None
        self._parameters: Any = None
        self._plug_mesh: Any = None
        self._drop_mesh: Any = None
        self._lamp: tuple[float, ...] | None = None
        self._sensors: dict[tuple[int, int], tuple[Any, Any]] = {}

    # ------------------------------------------------------------------------------------- scene

    def load(self, scene: Scene) -> None:
        """Make a scene the current one."""
        mi = self._mi
        # The old scene goes first: objects alive side by side get other numbers, and numbers are compiled in.
        self._scene = self._parameters = self._plug_mesh = self._drop_mesh = self._lamp = None
        gc.collect()
        coat = mi.load_dict(_principled(_vertex("vertex_colour")))
        texture = {
            "type": "bitmap",
            "data": mi.TensorXf(np.ascontiguousarray(scene.ground_texture)),
            "raw": True,
        }
        floor = mi.load_dict(_principled(texture))
        self._plug_mesh = self._mesh("plugs", scene.plugs, coat)
        self._drop_mesh = self._mesh("drops", scene.drops, mi.load_dict(_liquid()))
        turn = mi.ScalarTransform4f().rotate([0, 0, 1], scene.environment_turn).rotate([1, 0, 0], 90)
        self._scene = mi.load_dict(
            {
                "type": "scene",
                "plugs": self._plug_mesh,
                "drops": self._drop_mesh,
                "props": self._mesh("props", scene.props, coat),
                "ground": self._mesh("ground", scene.ground, floor, scene.ground_uv),
                "surroundings": {
                    "type": "envmap",
                    "bitmap": mi.Bitmap(np.ascontiguousarray(scene.environment)),
                    "to_world": turn,
                },
                "lamp": {
                    "type": "disk",
                    "to_world": self._lamp_transform(scene.views[0]),
                    "bsdf": {"type": "diffuse", "reflectance": 0.0},
                    "emitter": {
                        "type": "area",
                        "radiance": {"type": "rgb", "value": _lamp_radiance(scene.views[0])},
                    },
                },
            }
        )
        self._parameters = mi.traverse(self._scene)

    def _mesh(self, name: str, mesh: SurfaceMesh, bsdf: Any, uv: NDArray[np.float32] | None = None) -> Any:
        mi = self._mi
        properties = mi.Properties()
        properties["bsdf"] = bsdf
        shape = mi.Mesh(
            name,
            len(mesh.points),
            len(mesh.faces),
            has_vertex_normals=True,
            has_vertex_texcoords=uv is not None,
            props=properties,
        )
        parameters = mi.traverse(shape)
        buffers = {"vertex_positions": _flat(mesh.points), "vertex_normals": _flat(mesh.normals)}
        if uv is not None:
            buffers["vertex_texcoords"] = _flat(uv)
        for key, values in buffers.items():
            parameters[key] = type(parameters[key])(values)
        parameters["faces"] = type(parameters["faces"])(np.ascontiguousarray(mesh.faces, np.uint32).ravel())
        # The one update before attributes are added: an update afterwards would drop them.
        parameters.update()
        shape.add_attribute("vertex_colour", 3, _flat(mesh.colour))
        shape.add_attribute("vertex_roughness", 1, _flat(mesh.roughness))
        shape.add_attribute("vertex_metallic", 1, _flat(mesh.metallic))
        shape.add_attribute("vertex_clearcoat", 1, _flat(mesh.clearcoat))
        return shape

    def _lamp_transform(self, view: View) -> Any:
        mi = self._mi
        up = np.array([0.0, 0.0, 1.0])
        sight = view.lamp_target - view.lamp_position
        if abs(sight[2]) > 0.99 * np.linalg.norm(sight):
            up = np.array([1.0, 0.0, 0.0])
        at = mi.ScalarTransform4f().look_at(
            origin=view.lamp_position.tolist(), target=view.lamp_target.tolist(), up=up.tolist()
        )
        return at @ mi.ScalarTransform4f().scale(float(view.lamp_radius_mm))

    def _sensor(self, view: View) -> Any:
        """The camera of this picture size, moved to the view.

        One camera is kept a size and updated: values that were ever updated are no longer compiled into kernels.
        """
        size = (view.width, view.height)
        if size not in self._sensors:
            sensor = self._new_sensor(view)
            self._sensors[size] = (sensor, self._mi.traverse(sensor))
        sensor, parameters = self._sensors[size]
        parameters["x_fov"] = self._value(view.field_degrees)
        parameters["aperture_radius"] = self._value(view.aperture_mm)
        parameters["focus_distance"] = self._value(view.focus_mm)
        parameters["to_world"] = self._camera_transform(view)
        parameters.update()
        return sensor

    def _value(self, number: float) -> Any:
        """A number that stays out of the compiled kernel: a plain float would be compiled in, a kernel a value."""
        if self.variant == SCALAR:
            return float(number)
        drjit: Any = importlib.import_module("drjit")
        return drjit.opaque(self._mi.Float, float(number))

    def _camera_transform(self, view: View) -> Any:
        return self._mi.ScalarTransform4f().look_at(
            origin=view.origin.tolist(), target=view.target.tolist(), up=view.up.tolist()
        )

    def _new_sensor(self, view: View) -> Any:
        return self._mi.load_dict(
            {
                "type": "thinlens",
                "fov": float(view.field_degrees),
                "fov_axis": "x",
                "aperture_radius": float(view.aperture_mm),
                "focus_distance": float(view.focus_mm),
                "near_clip": 1.0,
                "far_clip": 1e5,
                "to_world": self._camera_transform(view),
                "film": {
                    "type": "hdrfilm",
                    "width": view.width,
                    "height": view.height,
                    "pixel_format": "rgb",
                    "component_format": "float32",
                    "rfilter": {"type": "box"},
                },
                "sampler": {"type": "independent"},
            }
        )

    # ------------------------------------------------------------------------------------- pictures

    def picture(self, view: View, samples: int, seed: int) -> NDArray[np.float32]:
        """Linear picture (H, W, 3) of the current scene."""
        self._set_lamp(view)
        image = self._mi.render(
            self._scene, sensor=self._sensor(view), integrator=self._integrator, spp=samples, seed=seed
        )
        return np.nan_to_num(np.array(image, np.float32)[..., :3], nan=0.0, posinf=0.0, neginf=0.0)

    def _set_lamp(self, view: View) -> None:
        """Move the lamp, unless it stands there already: moving it builds the scene's search tree anew."""
        lamp = (*view.lamp_position, *view.lamp_target, *view.lamp_radiance)
        if lamp == self._lamp:
            return
        self._parameters["lamp.to_world"] = self._lamp_transform(view)
        self._parameters["lamp.emitter.radiance.value"] = self._mi.Color3f(_lamp_radiance(view))
        self._parameters.update()
        self._lamp = lamp

    def hits(self, view: View, scene: Scene) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
        """What the ray through each pixel centre hits first: its value and whether it counts for a firing end's box.

        ``scene`` is the current one. A drop has the value of what it stands on. A box is that of the plug alone, so
        it is told by what lies straight behind a drop: neither may a drop hide the plug's edge nor hang over it.

        Returns
        -------
        uint8 (H, W), ``plugs.part`` or ``drops.part`` of the face hit, else 0; bool (H, W).
        """
        find = self._first_hits_one_by_one if self.variant == SCALAR else self._first_hits
        rays = view.pixel_rays()
        origins = np.tile(view.origin.astype(np.float32), (len(rays), 1))
        plug, drop, far = find(origins, rays)
        value = np.where(plug >= 0, scene.plugs.part[np.maximum(plug, 0)], 0)
        value = np.where(drop >= 0, scene.drops.part[np.maximum(drop, 0)], value).astype(np.uint8)
        behind = np.flatnonzero(drop >= 0)
        for _ in range(_MOST_DROPS_IN_LINE):
            if not len(behind):
                break
            origins[behind] += (far[behind, None] + _STEP_MM) * rays[behind]
            plug[behind], drop[behind], far[behind] = find(origins[behind], rays[behind])
            behind = behind[drop[behind] >= 0]
        in_box = (plug >= 0) & scene.in_box[np.maximum(plug, 0)]
        shape = (view.height, view.width)
        return value.reshape(shape), in_box.reshape(shape)

    def _first_hits(self, origins: NDArray[np.float32], rays: NDArray[np.float32]) -> _FirstHits:
        """Face of the plug mesh and of the drop mesh (-1: not hit) and distance of what each ray hits, by one kernel.

        No value is compiled into it, nor the number of rays.
        """
        mi = self._mi
        drjit: Any = importlib.import_module("drjit")
        origin, direction = (mi.Point3f(*np.ascontiguousarray(a.T)) for a in (origins, rays))
        found = self._scene.ray_intersect_preliminary(mi.Ray3f(origin, mi.Vector3f(direction)), coherent=True)
        valid, prim, far = found.is_valid(), found.prim_index, found.t
        shape = drjit.reinterpret_array(mi.UInt32, found.shape)
        drjit.eval(valid, prim, shape, far)
        faces = []
        for mesh in (self._plug_mesh, self._drop_mesh):
            number = np.array(drjit.reinterpret_array(mi.UInt32, mi.ShapePtr(mesh)))[0]
            on_mesh = np.array(valid) & (np.array(shape) == number)
            faces.append(np.where(on_mesh, np.array(prim).astype(np.int64), -1))
        return faces[0], faces[1], np.array(far)

    def _first_hits_one_by_one(self, origins: NDArray[np.float32], rays: NDArray[np.float32]) -> _FirstHits:
        mi = self._mi
        plug, drop = np.full(len(rays), -1, np.int64), np.full(len(rays), -1, np.int64)
        far = np.zeros(len(rays), np.float32)
        for index, (origin, direction) in enumerate(zip(origins, rays, strict=True)):
            found = self._scene.ray_intersect_preliminary(mi.Ray3f(origin.tolist(), direction.tolist()))
            if found.is_valid():
                far[index] = found.t
                if found.shape == self._plug_mesh:
                    plug[index] = found.prim_index
                elif found.shape == self._drop_mesh:
                    drop[index] = found.prim_index
        return plug, drop, far


def _flat(values: NDArray[np.floating]) -> NDArray[np.float32]:
    return np.ascontiguousarray(values, np.float32).ravel()


def _vertex(name: str) -> dict[str, Any]:
    return {"type": "mesh_attribute", "name": name}


def _principled(colour: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "twosided",
        "surface": {
            "type": "principled",
            "base_color": colour,
            "roughness": _vertex("vertex_roughness"),
            "metallic": _vertex("vertex_metallic"),
            "clearcoat": _vertex("vertex_clearcoat"),
            "clearcoat_gloss": 0.93,
            "specular": 0.5,
        },
    }


def _liquid() -> dict[str, Any]:
    """A drop: clear liquid by the share its mesh states, the rest a glossy body (`scenes.drops`)."""
    body = {
        "type": "twosided",
        "surface": {
            "type": "principled",
            "base_color": _vertex("vertex_colour"),
            "roughness": _vertex("vertex_roughness"),
            "specular": 0.5,
        },
    }
    clear = {"type": "dielectric", "int_ior": FUEL_INDEX, "ext_ior": 1.0}
    return {"type": "blendbsdf", "weight": _vertex("vertex_clearcoat"), "body": body, "clear": clear}


def _lamp_radiance(view: View) -> list[float]:
    return [max(float(x), 1e-6) for x in view.lamp_radiance]
