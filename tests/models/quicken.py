"""Rewrites the two MoveNet files so that they give the same in less time; weights stay as they are.

    python tests/models/quicken.py FOLDER OUT

FOLDER holds ``movenet_thunder.onnx`` and ``movenet_multipose.onnx`` as they were converted
(SHA-256 in `BEFORE`; they are in this repository's history), OUT is where to write them. Needs the
package ``onnx``, which nothing else here does. What is changed:

- Both take a picture as it is, uint8, and turn it to channels first before it becomes float. Its
  values are then scaled by one number instead of three that are alike.
- The finder weighs how likely each place in the picture is for each point of each person by a
  bell around where it expects the point, and by whether the place is in the person's box. Both are
  products of a part across and a part down the picture, but were worked out for every place. Now
  the parts are worked out and then multiplied.

Thunder's output is the same to the last bit, the finder's but for rounding: the largest difference
is printed.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
from onnx import TensorProto, helper, numpy_helper

BEFORE = {
    "movenet_multipose.onnx": "671d9855c58666bc527792363ca8446ef5eb83b8ffb96e30a9d6d5c736566b0d",
    "movenet_thunder.onnx": "3a4b18104ea215e90d72f02887efbd58688438ba6d7d4f686fa9123d4112d48a",
}
#: How the converted files name their parts.
_AT = "StatefulPartitionedCall/"
PEOPLE, POINTS = 6, 17


class Rewriting:
    """A model, the nodes to add, and the names whose makers they replace."""

    def __init__(self, path: Path) -> None:
        self.model: Any = onnx.load(str(path))
        self.new: list[Any] = []
        self.replaced: set[str] = set()

    def constant(self, name: str, value: Any) -> str:
        """Add a constant; return its name."""
        self.model.graph.initializer.append(numpy_helper.from_array(np.asarray(value), name))
        return name

    def node(self, kind: str, inputs: list[str], output: str, **more: Any) -> str:
        """Add a node; return its output's name."""
        self.new.append(helper.make_node(kind, inputs, [output], **more))
        return output

    def instead(self, kind: str, inputs: list[str], output: str, **more: Any) -> None:
        """Add a node in place of the one that made `output`."""
        self.replaced.add(self.node(kind, inputs, output, **more))

    def finished(self) -> Any:
        """Return the model with its nodes in order, and without what nobody needs any more."""
        graph = self.model.graph
        kept = [node for node in graph.node if not self.replaced & set(node.output)]
        ordered = _in_order(
            [*kept, *self.new], {"", *_names(graph.initializer), graph.input[0].name}
        )
        needed = set(_names(graph.output))
        backwards = []
        for node in reversed(ordered):
            if needed & set(node.output):
                backwards.append(node)
                needed |= set(node.input)
        constants = [each for each in graph.initializer if each.name in needed]
        del graph.node[:], graph.initializer[:]
        graph.node.extend(reversed(backwards))
        graph.initializer.extend(constants)
        onnx.checker.check_model(self.model)
        return self.model


def _names(parts: Iterable[Any]) -> list[str]:
    return [part.name for part in parts]


def _in_order(nodes: list[Any], known: set[str]) -> list[Any]:
    """Each node after those whose outputs it takes."""
    ordered: list[Any] = []
    while nodes:
        ready = [node for node in nodes if known.issuperset(node.input)]
        if not ready:
            raise ValueError(f"nothing makes what these take: {_names(nodes)}")
        taken = {id(node) for node in ready}
        nodes = [node for node in nodes if id(node) not in taken]
        known = known.union(*(node.output for node in ready))
        ordered += ready
    return ordered


def take_bytes(rewriting: Rewriting) -> None:
    """Have a model take uint8, turn channels first, then scale by one number."""
    graph = rewriting.model.graph
    scales = {i.name: numpy_helper.to_array(i).ravel() for i in graph.initializer}
    zero, scale = scales[f"{_AT}Reshape:0"], scales[f"{_AT}truediv:0"]
    assert not zero.any() and (scale == scale[0]).all()
    (first,) = (n for n in graph.node if n.op_type == "Transpose" and n.input[0] == f"{_AT}sub_1:0")
    graph.input[0].type.tensor_type.elem_type = TensorProto.UINT8
    node, constant = rewriting.node, rewriting.constant
    turned = node("Transpose", [graph.input[0].name], "bytes_first", perm=[0, 3, 1, 2])
    values = node("Cast", [turned], "bytes_float", to=TensorProto.FLOAT)
    scaled = node("Mul", [values, constant("bytes_scale", scale[0])], "bytes_scaled")
    one = constant("bytes_one", np.float32(1.0))
    rewriting.instead("Sub", [scaled, one], first.output[0])


def weigh_by_parts(rewriting: Rewriting) -> None:
    """Work out the finder's bells and boxes across and down the picture, then multiply."""
    node, constant = rewriting.node, rewriting.constant

    def whole(name: str, numbers: list[int]) -> str:
        return constant(name, np.array(numbers, np.int64))

    each = whole("parts_each", [PEOPLE, POINTS, 1, 1])
    box = whole("parts_box", [PEOPLE, 1, 1, 1])

    def part(name: str, places: str, expected: str, low: str, high: str, shape: list[int]) -> str:
        along = node("Reshape", [places, whole(f"{name}_shape", shape)], f"{name}_along")
        middle = node("Reshape", [expected, each], f"{name}_middle")
        away = node("Sub", [along, middle], f"{name}_away")
        square = node("Mul", [away, away], f"{name}_square")
        minus = node("Mul", [f"{_AT}mul_7/x:0", square], f"{name}_minus")
        bell = node("Exp", [node("Div", [minus, f"{_AT}mul_6:0"], f"{name}_log")], f"{name}_bell")
        low, high = (
            node("Reshape", [end, box], f"{name}_{k}") for k, end in enumerate((low, high))
        )
        within = node(
            "And",
            [
                node("GreaterOrEqual", [along, low], f"{name}_behind"),
                node("Less", [along, high], f"{name}_before"),
            ],
            f"{name}_within",
        )
        counts = node("Cast", [within], f"{name}_counts", to=TensorProto.FLOAT)
        return node("Mul", [bell, counts], f"{name}_weight")

    sides = [f"{_AT}split:{k}" for k in range(4)]  # top, left, bottom, right
    across = part("across", f"{_AT}range_1:0", f"{_AT}add_7:0", sides[1], sides[3], [1, 1, 1, -1])
    down = part("down", f"{_AT}range_2:0", f"{_AT}add_6:0", sides[0], sides[2], [1, 1, -1, 1])
    likely = node("Mul", [f"{_AT}Sigmoid_1:0", down], "parts_down")
    likely = node("Mul", [likely, across], "parts_likely")
    rows = node("Reshape", [likely, whole("parts_rows", [PEOPLE * POINTS, -1])], "parts_flat")
    rewriting.instead("ArgMax", [rows], f"{_AT}ArgMax:0", axis=1, keepdims=0)
    best = node("ReduceMax", [likely], "parts_best", axes=[0], keepdims=0)
    rewriting.instead("Transpose", [best], f"{_AT}Max:0", perm=[1, 2, 0])
    # The picture's width was read off what is no longer made.
    width, again = f"{_AT}strided_slice_8__1116:0", f"{_AT}strided_slice_20__1407:0"
    rewriting.instead("Identity", [width], again)


def largest_difference(before: Path, after: Path, height: int, width: int) -> float:
    """Run both on pictures of noise at several scales."""
    sessions = [onnxruntime.InferenceSession(str(path)) for path in (before, after)]
    rng = np.random.default_rng(0)
    largest = 0.0
    for coarse in (1, 4, 16, 32):
        noise = rng.integers(0, 256, (height // coarse, width // coarse, 3), np.uint8)
        picture = noise.repeat(coarse, axis=0).repeat(coarse, axis=1)[None]
        old, new = (
            session.run(None, {session.get_inputs()[0].name: picture.astype(kind)})[0]
            for session, kind in zip(sessions, (np.int32, np.uint8), strict=True)
        )
        largest = max(largest, float(np.abs(old - new).max()))
    return largest


def main() -> None:
    """Rewrite both files and print their hashes."""
    folder, out = map(Path, sys.argv[1:3])
    for name, size in (
        ("movenet_thunder.onnx", (256, 256)),
        ("movenet_multipose.onnx", (288, 512)),
    ):
        source, target = folder / name, out / name
        if hashlib.sha256(source.read_bytes()).hexdigest() != BEFORE[name]:
            raise SystemExit(f"{source} is not the file as it was converted.")
        rewriting = Rewriting(source)
        take_bytes(rewriting)
        if "multipose" in name:
            weigh_by_parts(rewriting)
        onnx.save(rewriting.finished(), str(target))
        away = largest_difference(source, target, *size)
        print(
            f"{name} {hashlib.sha256(target.read_bytes()).hexdigest()} largest difference {away:g}"
        )


if __name__ == "__main__":
    main()
