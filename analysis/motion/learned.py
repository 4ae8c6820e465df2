"""The few numbers that are learned from rendered truth, read from two files.

Those of ``tests/accuracy`` whose names begin with ``learn`` make ``learned.json`` and, for small
networks, ``limb_nets.npz``; nothing in them can be derived from mechanics.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from analysis.checks import FloatArray
from analysis.motion.back_rounding import UsualBack
from analysis.motion.build import BuildWeights
from analysis.motion.corrections import Postures
from analysis.motion.edges import Depth
from analysis.motion.evidence import MODELS
from analysis.motion.limb_looks import LimbNets
from analysis.motion.motion import ANGLES, JOINTS, Setting, TurnError
from analysis.motion.near_and_far import TERMS
from analysis.motion.rules import Shortening
from analysis.motion.small_net import PARTS, SmallNet
from analysis.motion.view import DepthCue


@dataclass(frozen=True)
class LeftOver:
    """Error of one angle that is left after everything, as it was on clips not learned from.

    ``at_deg`` and ``se_deg`` [shape=(B,)]: standard error by the angle's own value, linear in
    between; ``noise_deg`` the part of it that changes from stroke to stroke.
    """

    at_deg: FloatArray
    se_deg: FloatArray
    noise_deg: float


@dataclass(frozen=True)
class Learned:
    """Everything learned.

    Attributes
    ----------
    offsets : mapping of (model, joint) to array
        Weights of the offset terms (:mod:`analysis.motion.corrections`), trunk lengths.
    spread : array [shape=(W, J)]
        Scatter of each corrected landmark about truth, one coordinate, trunk lengths; NaN where
        nothing was learned.
    depth_cues : mapping of (witness, joint index) to DepthCue
    left_over : mapping of str to LeftOver
        By angle.
    tilt_se_deg : float
        Error of the camera's tilt that is already part of `left_over`.
    back : UsualBack
    turns : TurnError
    shortening : mapping of str to (angles, shares)
        How much of a limb's segment shows as it bends out of the plane (:mod:`fit`).
    depths : mapping of str to Depth
        How deep joints lie under the outline (:mod:`edges`).
    postures : mapping of (joint, joint) to (lowest, highest)
        Leans of the segments in what was learned from, degrees.
    by_setting : mapping of Setting to array [shape=(W, J, 2)]
        What is still to be added to corrected landmarks in the athlete's frame, trunk lengths; 0
        where nothing was learned. Boats hide feet.
    aside : array [shape=(W, J, 2, TERMS)]
        What near joints are off by when the camera stands aside (:mod:`near_and_far`); of machines.
    looks : mapping of str to networks
        How limbs lie in their pictures (:mod:`analysis.motion.limb_looks`).
    build : BuildWeights
        What an athlete's build tells of how segments lie; of machines.
    """

    offsets: Mapping[tuple[str, str], FloatArray]
    spread: FloatArray
    depth_cues: Mapping[tuple[int, int], DepthCue]
    left_over: Mapping[str, LeftOver]
    tilt_se_deg: float
    back: UsualBack
    turns: TurnError
    shortening: Shortening
    depths: Mapping[str, Depth]
    postures: Postures
    by_setting: Mapping[Setting, FloatArray]
    aside: FloatArray
    looks: LimbNets
    build: BuildWeights


@cache
def shipped() -> Learned:
    """Return the learned numbers that are part of the package."""
    folder = files("analysis.motion")
    nets = read_nets((folder / "limb_nets.npz").read_bytes())
    return read((folder / "learned.json").read_text(encoding="utf-8"), nets)


def read_nets(content: bytes) -> LimbNets:
    """Read networks from the content of ``limb_nets.npz``."""
    nets: dict[str, list[SmallNet]] = {}
    with np.load(io.BytesIO(content), allow_pickle=False) as arrays:
        for limb, number in sorted({tuple(name.split("/")[:2]) for name in arrays.files}):
            parts = (arrays[f"{limb}/{number}/{part}"].astype(np.float32) for part in PARTS)
            nets.setdefault(limb, []).append(SmallNet(*parts))
    return nets


def read(text: str, nets: LimbNets) -> Learned:
    """Read learned numbers from the text of ``learned.json``; networks are read before."""
    data = json.loads(text)
    offsets: dict[tuple[str, str], FloatArray] = {}
    spread = np.full((len(MODELS), len(JOINTS)), np.nan)
    for model, joints in data["offsets"].items():
        for joint, learned in joints.items():
            offsets[model, joint] = np.array(learned["weights"], dtype=np.float64)
            spread[MODELS.index(model), JOINTS.index(joint)] = learned["spread"]
    cues = {
        (MODELS.index(model), JOINTS.index(joint)): DepthCue(np.array(cue["bias"]), cue["spread"])
        for model, joints in data["depth_cues"].items()
        for joint, cue in joints.items()
    }
    left_over = {
        name: LeftOver(np.array(e["at_deg"]), np.array(e["se_deg"]), e["noise_deg"])
        for name, e in data["left_over"].items()
        if name in ANGLES
    }
    return Learned(
        offsets,
        spread,
        cues,
        left_over,
        float(data["tilt_se_deg"]),
        UsualBack(**{name: np.array(values) for name, values in data["back"].items()}),
        TurnError(**data["turns"]),
        {
            name: (np.array(part["at_deg"]), np.array(part["share"]))
            for name, part in data["shortening"].items()
        },
        {
            name: Depth(np.array(d["at_deg"]), np.array(d["depth"]), d["within"], d["between"])
            for name, d in data["depths"].items()
        },
        {(low, high): (least, most) for low, high, least, most in data["postures"]},
        {
            "erg": _by_joint(data["by_setting"]["erg"], 2),
            "boat": _by_joint(data["by_setting"]["boat"], 2),
        },
        _by_joint(data["aside"], 2, TERMS),
        nets,
        BuildWeights(
            np.array(data["build"]["usual"]),
            np.array(data["build"]["scatter"]),
            {name: np.array(weights) for name, weights in data["build"]["turn"].items()},
        ),
    )


def _by_joint(table: Mapping[str, Mapping[str, Any]], *shape: int) -> FloatArray:
    """Return what a table tells of each model and joint [shape=(W, J, *shape)]; 0 elsewhere."""
    found = np.zeros((len(MODELS), len(JOINTS), *shape))
    for model, joints in table.items():
        for joint, values in joints.items():
            found[MODELS.index(model), JOINTS.index(joint)] = values
    return found
