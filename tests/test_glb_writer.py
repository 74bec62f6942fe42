"""The mesh of a finished cup as a .glb: read by other software, its picture at true size where it belongs."""

from __future__ import annotations

import io
import json
import math
import os
import shutil
import struct
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from cupgeom import Cup, CupgeomError, Foot, Handle, Ring
from cupgeom.drawing import Drawing, Shape, circle
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.layer import Laid
from cupgeom.proof.mesh import Material, Mesh, Part
from cupgeom.proof.model import model
from cupgeom.writers import glb

from .apex import Apex

DPI = 50
HANDLE = Handle(feet=(Foot(width=14, top=14, bottom=26), Foot(width=14, top=66, bottom=78)))
CUPS = {
    "tumbler": Cup.frustum(88, 70, 170, bare_lip=6),
    "mug": Cup.frustum(84, 84, 95, bare_lip=4, handle=HANDLE),
    "upside down": Cup.frustum(60, 90, 80, bare_lip=5, base_coated=True),
    "bowl": Cup.frustum(120, 30, 40, bare_lip=2),
    "cone": Cup.frustum(80, 0, 90, bare_lip=3),
    "shouldered": Cup(
        rings=(
            Ring(diameter=70, height=150),
            Ring(diameter=72, height=110),
            Ring(diameter=88, height=95),
            Ring(diameter=80, height=0),
        ),
        bare_lip=6,
    ),
}


class Read:
    """A .glb taken apart by the layout in the glTF 2.0 specification, chapter 4 and section 5.1 (from memory)."""

    def __init__(self, data: bytes) -> None:
        magic, version, length = struct.unpack_from("<4sII", data)
        assert (magic, version, length) == (b"glTF", 2, len(data))
        size, kind = struct.unpack_from("<I4s", data, 12)
        assert kind == b"JSON" and size % 4 == 0
        self.scene: dict[str, Any] = json.loads(data[20 : 20 + size])
        more, kind = struct.unpack_from("<I4s", data, 20 + size)
        assert kind == b"BIN\0" and 28 + size + more == len(data)
        self.binary = data[28 + size :]

    def view(self, index: int) -> bytes:
        view = self.scene["bufferViews"][index]
        return self.binary[view["byteOffset"] : view["byteOffset"] + view["byteLength"]]

    def numbers(self, index: int) -> NDArray[Any]:
        accessor = self.scene["accessors"][index]
        kind = {5126: np.float32, 5125: np.uint32}[accessor["componentType"]]
        width = {"SCALAR": 1, "VEC2": 2, "VEC3": 3}[accessor["type"]]
        return np.frombuffer(self.view(accessor["bufferView"]), kind).reshape(accessor["count"], width)

    def part(self, name: str) -> dict[str, NDArray[Any]]:
        """Corners [mm], normals, places on the picture and triangles of a part."""
        (mesh,) = (mesh for mesh in self.scene["meshes"] if mesh["name"] == name)
        (primitive,) = mesh["primitives"]
        found = {key: self.numbers(at).astype(float) for key, at in primitive["attributes"].items()}
        found["POSITION"] *= 1000  # metres
        return found | {"faces": self.numbers(primitive["indices"]).reshape(-1, 3)}

    def picture(self, index: int) -> Image.Image:
        return Image.open(io.BytesIO(self.view(self.scene["images"][index]["bufferView"])))


def finished(cup: Cup) -> FinishedCup:
    """The cup with a dark disc of radius 6 at turn 40° in the middle of the top wall."""
    wall = Apex(cup.rings[0].diameter, cup.rings[1].diameter, cup.rings[0].height - cup.rings[1].height)
    centre = complex(wall.flat(np.array([math.radians(40)]), np.array([wall.slant / 2]))[0])
    disc = Shape(path=circle(centre, 6), role="print", fill=(0.0, 0.0, 0.0))
    return FinishedCup(
        cup=cup, base=(0.9, 0.8, 0.2), layers=(Laid(wall_index=0, drawing=Drawing((disc,)), clear=False),)
    )


@pytest.fixture(scope="module", params=list(CUPS), ids=str)
def made(request: pytest.FixtureRequest) -> tuple[Cup, bytes]:
    cup = CUPS[request.param]
    return cup, glb.render(model(finished(cup), DPI, name=request.param, notes=(("proof mark", "7K2M-QX04"),)))


def doubled_area(points: NDArray[Any], faces: NDArray[Any]) -> NDArray[Any]:
    """Twice the signed area of triangles in the plane."""
    a, b, c = (points[faces[:, i]] for i in range(3))
    return (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])


def test_the_picture_covers_the_area_of_the_flat_sector(made: tuple[Cup, bytes]) -> None:
    cup, data = made
    read = Read(data)
    coated_from = cup.bare_lip
    for index, (wall, start) in enumerate(zip(cup.walls, cup.wall_tops, strict=True)):
        part, image = read.part(f"wall {index + 1}"), read.picture(index)
        flat = part["TEXCOORD_0"] * np.array(image.size) * 25.4 / DPI
        # π(R + r)s, Machinery's Handbook, 31st ed. (2020), p. 90, of what is coated
        drops = max(0.0, coated_from - start), wall.slant
        radii = [wall.top_radius + (wall.base_radius - wall.top_radius) * drop / wall.slant for drop in drops]
        expected = math.pi * sum(radii) * (drops[1] - drops[0])
        halves = doubled_area(flat, part["faces"])
        # anticlockwise from outside, as the picture's y runs downward: all of one sign, so that no part is flipped
        assert (halves < 0).all()
        assert -halves.sum() / 2 == pytest.approx(expected, rel=1e-4)


def test_places_on_the_picture_are_places_on_the_sheet(made: tuple[Cup, bytes]) -> None:
    cup, data = made
    read = Read(data)
    for index in range(len(cup.walls)):
        above, below = cup.rings[index], cup.rings[index + 1]
        wall = Apex(above.diameter, below.diameter, above.height - below.height)
        part, image = read.part(f"wall {index + 1}"), read.picture(index)
        x, y, z = part["POSITION"].T
        flat = part["TEXCOORD_0"] * np.array(image.size) * 25.4 / DPI
        ends = np.array([-math.pi + 1e-9, 0.0, math.pi - 1e-9])
        drop = (above.height - cup.rings[-1].height - y) * wall.slant / (above.height - below.height)
        count = len(x) // 2
        turn = np.tile(np.linspace(ends[0], ends[2], count), 2)
        assert np.sin(turn) * np.hypot(x, z) == pytest.approx(x, abs=1e-4)
        true = wall.flat(turn, drop)
        found = flat[:, 0] - 1j * flat[:, 1]
        shift = (found - true).mean()
        assert np.abs(found - true - shift).max() < 2e-3  # float32 of 600 pixels


def test_the_dark_disc_is_found_on_the_mesh_where_it_was_laid(made: tuple[Cup, bytes]) -> None:
    cup, data = made
    read = Read(data)
    part = read.part("wall 1")
    image = np.asarray(read.picture(0).convert("L")).astype(float)
    rows, columns = np.nonzero(image < 60)
    dark = np.array([columns.mean() + 0.5, rows.mean() + 0.5]) / read.picture(0).size
    assert len(rows) * (25.4 / DPI) ** 2 == pytest.approx(math.pi * 36, rel=0.06)
    faces, places = part["faces"], part["TEXCOORD_0"]
    a, b, c = (places[faces[:, i]] for i in range(3))
    whole = doubled_area(places, faces)
    shares = [_doubled(dark, b, c) / whole, _doubled(dark, c, a) / whole, _doubled(dark, a, b) / whole]
    (face,) = np.nonzero(np.min(shares, axis=0) >= 0)[0][:1]
    point = sum(share[face] * part["POSITION"][faces[face, i]] for i, share in enumerate(shares))
    top, bottom = cup.rings[0].height, cup.rings[1].height
    assert math.degrees(math.atan2(point[0], point[2])) == pytest.approx(40, abs=0.5)
    assert point[1] == pytest.approx((top + bottom) / 2 - cup.rings[-1].height, abs=0.4)


def _doubled(point: NDArray[Any], start: NDArray[Any], end: NDArray[Any]) -> NDArray[Any]:
    along, to = end - start, point - start
    return along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0]


def test_normals_have_length_1_and_look_where_triangles_look(made: tuple[Cup, bytes]) -> None:
    _, data = made
    read = Read(data)
    for mesh in read.scene["meshes"]:
        part = read.part(mesh["name"])
        corners = part["POSITION"][part["faces"]]
        facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert np.linalg.norm(part["NORMAL"], axis=1) == pytest.approx(1, abs=1e-6)
        lengths = np.linalg.norm(facing, axis=1)
        assert lengths.min() > 0
        means = part["NORMAL"][part["faces"]].mean(axis=1)
        assert ((facing * means).sum(axis=1) > 0.9 * lengths * np.linalg.norm(means, axis=1)).all()


def test_trimesh_reads_it_and_finds_its_area(made: tuple[Cup, bytes]) -> None:
    import trimesh

    cup, data = made
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    low, high = scene.bounds * 1000
    widest = max(ring.diameter for ring in cup.rings) / 2
    assert (low[0], high[0], high[2]) == pytest.approx((-widest, widest, widest), abs=1e-3)
    assert (low[1], high[1]) == pytest.approx((0, cup.height), abs=1e-3)
    walls = [one for name, one in scene.geometry.items() if name.startswith(("wall", "bare band"))]
    count = round(2 * math.pi / (2 * math.asin(_shortest_side(walls[0]) / (2 * _radius(walls[0])))))
    # CHECKS P9: n-gon frustum area = n·r̄·2 sin(π/n)·√(h² + (Δr cos(π/n))²)
    half = math.pi / count
    expected = sum(
        count * (w.top_radius + w.base_radius) / 2 * 2 * math.sin(half)
        * math.hypot(w.height, (w.top_radius - w.base_radius) * math.cos(half))
        for w in cup.walls
    )  # fmt: skip
    assert sum(one.area for one in walls) * 1e6 == pytest.approx(expected, rel=1e-5)


def _radius(mesh: Any) -> float:
    """Radius of the top circle."""
    top = mesh.vertices[mesh.vertices[:, 1] > mesh.vertices[:, 1].max() - 1e-7]
    return float(np.hypot(top[:, 0], top[:, 2]).max())


def _shortest_side(mesh: Any) -> float:
    """Side of the top circle's polygon."""
    top = mesh.vertices[mesh.vertices[:, 1] > mesh.vertices[:, 1].max() - 1e-7]
    turns = np.unique(np.round(np.arctan2(top[:, 0], top[:, 2]), 6))
    return float(2 * _radius(mesh) * math.sin(np.diff(turns).min() / 2))


def test_the_rim_is_metal_and_the_wrap_is_not(made: tuple[Cup, bytes]) -> None:
    cup, data = made
    scene = Read(data).scene
    looks = {
        mesh["name"]: scene["materials"][mesh["primitives"][0]["material"]]["pbrMetallicRoughness"]
        for mesh in scene["meshes"]
    }
    assert looks["lip"]["metallicFactor"] == looks["inside 1"]["metallicFactor"] == 1
    assert looks["bare band 1"]["metallicFactor"] == 1
    assert looks["wall 1"]["metallicFactor"] == 0
    assert ("handle" in looks) == (cup.handle is not None)
    if "underside" in looks:
        assert looks["underside"]["metallicFactor"] == (0 if cup.base_coated else 1)
    assert scene["asset"]["extras"] == {"proof mark": "7K2M-QX04"}


def test_same_cup_same_bytes() -> None:
    cup = CUPS["mug"]
    assert glb.render(model(finished(cup), 30)) == glb.render(model(finished(cup), 30))


def test_a_sheet_too_large_for_graphics_processors_is_drawn_coarser() -> None:
    read = Read(glb.render(model(FinishedCup(cup=Cup.frustum(300, 300, 20)), 400)))
    assert 2048 < max(read.picture(0).size) <= 4096


VALIDATE = """
const fs = require('fs'), validator = require('gltf-validator');
validator.validateBytes(new Uint8Array(fs.readFileSync(0)), {maxIssues: 50})
  .then(report => process.stdout.write(JSON.stringify(report)));
"""


@pytest.fixture(scope="module")
def node_modules() -> str:
    """Where node finds the Khronos validator."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        pytest.skip("node and npm are not installed")
    root = subprocess.run([npm, "root", "-g"], capture_output=True, text=True, check=True).stdout.strip()
    given = [Path(folder) for folder in os.environ.get("NODE_PATH", "").split(os.pathsep) if folder]
    folders = [*given, Path(root), *(parent / "node_modules" for parent in Path(__file__).resolve().parents)]
    for folder in folders:
        if (folder / "gltf-validator").is_dir():
            return str(folder)
    pytest.skip("the npm package gltf-validator is not installed")


def report(data: bytes, node_modules: str) -> dict[str, Any]:
    """What the Khronos glTF validator says."""
    surroundings = os.environ | {"NODE_PATH": node_modules}
    answer = subprocess.run(["node", "-e", VALIDATE], input=data, capture_output=True, check=True, env=surroundings)
    return dict(json.loads(answer.stdout))


def test_the_khronos_validator_finds_no_fault(made: tuple[Cup, bytes], node_modules: str) -> None:
    found = report(made[1], node_modules)
    assert (found["issues"]["numErrors"], found["issues"]["numWarnings"], found["issues"]["numHints"]) == (0, 0, 0)
    codes = {message["code"] for message in found["issues"]["messages"]}
    assert codes <= {"IMAGE_NPOT_DIMENSIONS"}  # a remark: pictures need not be powers of two in glTF 2.0
    assert found["info"]["totalTriangleCount"] > 500


def test_the_validator_finds_a_fault_where_there_is_one(node_modules: str) -> None:
    data = bytearray(glb.render(model(finished(CUPS["mug"]), 30)))
    read = Read(bytes(data))
    normals = read.scene["meshes"][0]["primitives"][0]["attributes"]["NORMAL"]
    start = (
        len(data)
        - len(read.binary)
        + read.scene["bufferViews"][read.scene["accessors"][normals]["bufferView"]]["byteOffset"]
    )
    data[start : start + 12] = bytes(12)  # a normal of length 0
    assert report(bytes(data), node_modules)["issues"]["numErrors"] > 0


def triangle(**changed: Any) -> Part:
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]], "<f4")
    usual: dict[str, Any] = {
        "name": "a", "material": Material(name="plain"), "points": points.tobytes(),
        "directions": np.tile(np.array([0, 0, 1], "<f4"), 3).tobytes(), "faces": np.arange(3, dtype="<u4").tobytes(),
    }  # fmt: skip
    return Part(**usual | changed)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"points": b""}, "part.points: must be three float32 a corner, with as many directions"),
        ({"places": bytes(24)}, "part.places: must be two float32 a corner with a picture, none without"),
        ({"faces": np.array([0, 1, 3], "<u4").tobytes()},
         "part.faces: must be three uint32 a triangle, each less than the 3 corners"),
        ({"points": np.full(9, np.nan, "<f4").tobytes()},
         "part.points: must be finite numbers, and so must directions and places"),
    ],
)  # fmt: skip
def test_a_part_that_is_none_is_refused(changed: dict[str, Any], message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        triangle(**changed)
    assert str(caught.value) == message


def test_a_mesh_needs_a_part() -> None:
    with pytest.raises(CupgeomError, match=r"^parts: a mesh needs at least one part$"):
        Mesh(name="none", parts=())
    assert Mesh(name="one", parts=(triangle(),)).bounds == ((0, 0, 0), (1, 1, 0))
