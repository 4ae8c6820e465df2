"""Learns how limbs lie in their own pictures: limb_nets.npz.

python tests/accuracy/learn_looks.py FOLDER ... --pose-cache DIR [--write]

Needs PyTorch (``pip install 'sideon[learn]'``). From rendered clips, never ones that are reported
on; after all that places joints, and before builds. Each limb gets ``FOLDS`` networks, none of
which sees the clips of its own fold: those tell what is printed, how far limbs are off on clips
left out of the learning, and what builds and errors are learned from (`unseen`).
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import torch
from learn import LEARNED, Clip, asked_for, seen_joints
from limb_examples import ASTRAY_DEG, FOLDS, before_pictures, fold_of, turned_deg, untold
from torch import nn

from analysis.errors import SideonError
from analysis.motion.bends import BENDS, PART_OF, alike, limbs_bend_deg
from analysis.motion.in_plane import in_picture
from analysis.motion.laid_limbs import ALONG, laid_along
from analysis.motion.limb_turns import turned_by, turned_further_deg
from analysis.motion.motion import JOINTS
from analysis.motion.reconstruct import fit_pose
from analysis.motion.small_net import (
    BEND_FROM_DEG,
    BEND_STEP_DEG,
    PARTS,
    STRIDES,
    SmallNet,
    steps_across,
)
from analysis.pose.track import LIMBS, Facing

STEPS, SETS, PICTURES, RATE = 6000, 24, 4, 4e-3
CHANNELS, MIXED, ROWS = 16, 32, 7
#: What is done to pictures before they are looked at: limbs are laid askew, aside and longer.
ASKEW_DEG, ASIDE, LONGER = 2.5, 0.02, 0.04
ENDS = np.array([[JOINTS.index(joint) for joint in ends] for ends in LIMBS.values()])


@dataclass(frozen=True)
class Example:
    """A clip's pictures of one limb, and how far the line along which they are laid is off."""

    clip: str
    limb: str
    facing: Facing
    grey: np.ndarray
    cut_px: np.ndarray
    line_px: np.ndarray
    off_deg: np.ndarray
    bend_deg: np.ndarray

    def laid(self, which: np.ndarray, askew_deg: float, aside: float, longer: float) -> np.ndarray:
        """Return pictures along the line after it was turned and moved [shape=(K, R, C)]."""
        sense = 1.0 if self.facing == "right" else -1.0
        turn = np.full((len(which), 1), sense * askew_deg)
        line = turned_by(self.line_px[which, None], turn)[:, 0]
        way = line[:, 1] - line[:, 0]
        middle = line.mean(axis=1) + sense * aside * np.column_stack([-way[:, 1], way[:, 0]])
        line = np.stack([middle - longer * way / 2, middle + longer * way / 2], axis=1)
        return laid_along(self.grey[which], self.cut_px[which], line, self.facing)[0]


def examples_of(clip: Clip) -> list[Example]:
    """Return a clip's examples, of limbs as they are first fitted and followed."""
    truth, pose = clip
    first = fit_pose(before_pictures(pose), setting=truth.setting, numbers=untold())
    ends = first.place[:, ENDS]
    ends_px = in_picture(first.place, first.out, first.camera)[:, ENDS]
    further = turned_further_deg(pose.t_s, ends, ends_px, pose.limb_turned)
    ends_px, bends = turned_by(ends_px, further), limbs_bend_deg(ends)
    frames, sense = pose.pictured_frames, 1.0 if pose.facing == "right" else -1.0
    found = []
    for limb, name in enumerate(LIMBS):
        cut, line = pose.pictured_ends_px[:, limb], ends_px[frames, limb]
        off = sense * turned_deg(line, seen_joints(truth)[frames][:, ENDS[limb]])
        known = np.isfinite(cut).all(axis=(1, 2)) & np.isfinite(off)
        if known.sum() < 6 or abs(np.median(off[known])) > ASTRAY_DEG:
            continue
        grey, bend = pose.pictured_grey[known, limb], bends[PART_OF[name]][frames][known]
        whole = truth.clip.stem, name, pose.facing, grey, cut[known], line[known], off[known], bend
        found.append(Example(*whole))
    return found


class Taught(nn.Module):
    """The network of :mod:`analysis.motion.small_net`, to be taught."""

    def __init__(self) -> None:
        super().__init__()
        kernels, reads = ((5, 3), (5, 3), (3, 3)), (1, CHANNELS, CHANNELS)
        self.convolutions = nn.ModuleList(
            nn.Conv2d(read, CHANNELS, kernel, stride, (kernel[0] // 2, kernel[1] // 2))
            for read, kernel, stride in zip(reads, kernels, STRIDES, strict=True)
        )
        self.mixed = nn.Linear(CHANNELS * ROWS * len(ALONG) // 4, MIXED)
        self.told = nn.Linear(MIXED + 1, 1)
        self.some, self.some_channels = nn.Dropout(0.3), nn.Dropout2d(0.15)

    def forward(self, laid: torch.Tensor, bend: torch.Tensor) -> torch.Tensor:
        """Return degrees of each set [shape=(S,)], of its pictures [shape=(S · K, 1, R, C)]."""
        first, second, third = self.convolutions
        found = self.some_channels(torch.relu(second(torch.relu(first(laid)))))
        found = self.some(torch.relu(third(found)).flatten(1))
        seen = torch.relu(self.mixed(found)).view(len(bend), -1, MIXED).mean(1)
        return self.told(torch.cat([seen, bend[:, None]], 1))[:, 0]

    def small(self) -> SmallNet:
        """Return it as it ships, in half precision."""
        parts = [each for layer in self.convolutions for each in (layer.weight, layer.bias)]
        parts += [self.mixed.weight, self.mixed.bias, self.told.weight[0], self.told.bias[0]]
        halves = [part.detach().numpy().astype(np.float16) for part in parts]
        return SmallNet(*(half.astype(np.float32) for half in halves))


def lesson(examples: list[Example], rng: np.random.Generator) -> tuple[torch.Tensor, ...]:
    """Return sets of pictures that are alike, their bends, and how far they are off."""
    laid, bends, off = [], [], []
    while len(off) < SETS:
        example = examples[rng.integers(len(examples))]
        low, high = BENDS[PART_OF[example.limb]][rng.integers(len(BENDS["arm"]))]
        within = np.flatnonzero((example.bend_deg >= low) & (example.bend_deg <= high))
        if len(within) < 3:
            continue
        which, askew = rng.choice(within, PICTURES), rng.normal(0.0, ASKEW_DEG)
        longer = np.exp(rng.normal(0.0, LONGER))
        laid.append(spoilt(example.laid(which, askew, rng.normal(0.0, ASIDE), longer), rng))
        bends.append((example.bend_deg[which].mean() - BEND_FROM_DEG) / BEND_STEP_DEG)
        off.append(example.off_deg[which].mean() - askew)
    changes = torch.from_numpy(steps_across(np.concatenate(laid))[:, None])
    return changes, torch.tensor(bends, dtype=torch.float32), torch.tensor(off, dtype=torch.float32)


def spoilt(laid: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return pictures in another light, noisier, and with something in front now and then."""
    if rng.random() < 0.5:
        laid = 255.0 * np.clip(laid / 255.0, 0.0, 1.0) ** np.exp(rng.normal(0.0, 0.4))
    laid = laid + rng.normal(0.0, abs(rng.normal(0.0, 4.0)), laid.shape)
    if rng.random() < 0.2:
        row, column = rng.integers(0, 45), rng.integers(0, 12)
        height, width = rng.integers(4, 20), rng.integers(2, 8)
        laid[:, row : row + height, column : column + width] = rng.uniform(20.0, 230.0)
    return laid


def taught(examples: list[Example], seed: int) -> SmallNet:
    """Return a network that was taught by examples of one limb."""
    torch.manual_seed(seed)
    rng, net = np.random.default_rng(seed), Taught()
    steps = torch.optim.AdamW(net.parameters(), RATE, weight_decay=0.01)
    rate = torch.optim.lr_scheduler.OneCycleLR(steps, RATE, total_steps=STEPS)
    for _ in range(STEPS):
        laid, bend, off = lesson(examples, rng)
        wrong = nn.functional.smooth_l1_loss(net(laid, bend), off)
        steps.zero_grad()
        wrong.backward()
        steps.step()
        rate.step()
    return net.small()


def left_deg(examples: list[Example], nets: list[SmallNet]) -> Iterator[tuple[int, float, float]]:
    """Yield group, how far each clip's limb was off, and is by the network that has not seen it."""
    for example in examples:
        net, every = nets[fold_of(example.clip)], np.arange(len(example.grey))
        seen = net.seen(example.laid(every, 0.0, 0.0, 1.0))
        for group in alike(example.limb, example.bend_deg):
            off = example.off_deg[group.frames].mean()
            yield group.group, off, off - net.off_deg(seen[group.frames], group.bend_deg)


def main() -> None:
    """Learn, print, and write when asked."""
    torch.set_num_threads(1)
    given, write = asked_for(__doc__)
    found = list[Example]()
    for clip in given:
        try:
            found += examples_of(clip)
        except SideonError as error:
            print(f"{clip[0].clip.name}: {error}")
    arrays = dict[str, np.ndarray]()
    for limb in LIMBS:
        own = [e for e in found if e.limb == limb]
        nets = [taught([e for e in own if fold_of(e.clip) != f], f) for f in range(FOLDS)]
        rows = np.array(list(left_deg(own, nets)))
        for group in range(len(BENDS["arm"])):
            before, after = np.abs(rows[rows[:, 0] == group, 1:]).mean(axis=0)
            print(f"{limb:9s} {group} {len(own):4d} clips: {before:.2f} → {after:.2f}°", flush=True)
        for fold, net in enumerate(nets):
            for part in PARTS:
                arrays[f"{limb}/{fold}/{part}"] = getattr(net, part).astype(np.float16)
    if write:
        content = io.BytesIO()
        np.savez_compressed(content, **arrays)
        LEARNED.with_name("limb_nets.npz").write_bytes(content.getvalue())


if __name__ == "__main__":
    main()
