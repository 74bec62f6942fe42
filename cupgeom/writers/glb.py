"""A mesh as glTF 2.0 in one binary file (Khronos Group, *glTF 2.0 Specification*, also ISO/IEC 12113:2022).

Lengths are metres there, y up and the front toward +z, as in the mesh. Pictures go in as PNG. Clear resin is the
extension KHR_materials_clearcoat, which a viewer may leave out.
"""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np

from cupgeom.pixels import png
from cupgeom.proof.mesh import Material, Mesh, Part

_FLOAT, _UINT = 5126, 5125
_VERTICES, _FACES = 34962, 34963
_LINEAR, _LINEAR_MIPMAPS, _CLAMP = 9729, 9987, 33071
_CLEARCOAT = "KHR_materials_clearcoat"
_METRES = np.float32(0.001)


def render(mesh: Mesh) -> bytes:
    """A mesh as the bytes of a .glb file."""
    file = _File()
    materials: list[Material] = []
    meshes = []
    for part in mesh.parts:
        if part.material not in materials:
            materials.append(part.material)
        meshes.append({"name": part.name, "primitives": [file.primitive(part, materials.index(part.material))]})
    nodes: list[dict[str, Any]] = [{"name": mesh.name, "children": [index + 1 for index in range(len(meshes))]}]
    nodes += [{"name": one["name"], "mesh": index} for index, one in enumerate(meshes)]
    described = [file.material(material) for material in materials]
    scene: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": "cupgeom"},
        "scene": 0,
        "scenes": [{"name": mesh.name, "nodes": [0]}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": described,
        "accessors": file.accessors,
        "bufferViews": file.views,
        "buffers": [{"byteLength": len(file.data)}],
    }
    if file.images:
        sampler = {"magFilter": _LINEAR, "minFilter": _LINEAR_MIPMAPS, "wrapS": _CLAMP, "wrapT": _CLAMP}
        scene["images"], scene["samplers"] = file.images, [sampler]
        scene["textures"] = [{"source": index, "sampler": 0} for index in range(len(file.images))]
    if any(material.resin for material in materials):
        scene["extensionsUsed"] = [_CLEARCOAT]
    if mesh.notes:
        scene["asset"]["extras"] = dict(mesh.notes)
    text = json.dumps(scene, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "replace")
    chunks = _chunk(b"JSON", text, b" ") + _chunk(b"BIN\0", bytes(file.data), b"\0")
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


class _File:
    """What goes into the binary chunk, and the lists that say what lies where."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []
        self.images: list[dict[str, Any]] = []

    def primitive(self, part: Part, material: int) -> dict[str, Any]:
        """One part: its corners and triangles."""
        metres = part.positions * _METRES
        extremes = {"min": _plain(metres.min(axis=0)), "max": _plain(metres.max(axis=0))}
        attributes = {
            "POSITION": self._accessor(metres.tobytes(), "VEC3", len(metres), **extremes),
            "NORMAL": self._accessor(part.directions, "VEC3", len(metres)),
        }
        if part.places:
            attributes["TEXCOORD_0"] = self._accessor(part.places, "VEC2", len(metres))
        view = self._view(part.faces, target=_FACES)
        self.accessors.append(
            {"bufferView": view, "componentType": _UINT, "count": len(part.faces) // 4, "type": "SCALAR"}
        )
        return {"attributes": attributes, "indices": len(self.accessors) - 1, "material": material}

    def material(self, material: Material) -> dict[str, Any]:
        """One material, its picture stored with it."""
        look: dict[str, Any] = {
            "baseColorFactor": [*(round(part, 6) for part in material.colour), 1],
            "metallicFactor": material.metallic,
            "roughnessFactor": material.roughness,
        }
        if material.picture is not None:
            view = self._view(png(material.picture))
            look["baseColorTexture"] = {"index": len(self.images)}
            self.images.append({"name": material.name, "mimeType": "image/png", "bufferView": view})
        found: dict[str, Any] = {"name": material.name, "pbrMetallicRoughness": look}
        if material.resin:
            found["extensions"] = {_CLEARCOAT: {"clearcoatFactor": 1, "clearcoatRoughnessFactor": 0.03}}
        return found

    def _accessor(self, data: bytes, kind: str, count: int, **extremes: list[float]) -> int:
        view = self._view(data, target=_VERTICES)
        self.accessors.append({"bufferView": view, "componentType": _FLOAT, "count": count, "type": kind, **extremes})
        return len(self.accessors) - 1

    def _view(self, data: bytes, **target: int) -> int:
        """Append bytes, each block at a multiple of 4; which view they are."""
        self.views.append({"buffer": 0, "byteOffset": len(self.data), "byteLength": len(data), **target})
        self.data += data + bytes(-len(data) % 4)
        return len(self.views) - 1


def _plain(values: np.ndarray[Any, np.dtype[np.float32]]) -> list[float]:
    """Doubles that are exactly the float32 in the file, as the format asks."""
    return [float(value) for value in values]


def _chunk(kind: bytes, data: bytes, filler: bytes) -> bytes:
    padded = data + filler * (-len(data) % 4)
    return struct.pack("<I4s", len(padded), kind) + padded
