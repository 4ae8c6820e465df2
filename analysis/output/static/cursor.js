"use strict";
// The upright line and the dot that run through every curve, and jumping by a tap on a curve.
(() => {
  const { data } = clipPage;
  const make = (svg, name, attributes) => {
    const node = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    svg.append(node);
    return node;
  };
  // "value value place place" → from a value to its place in the drawing, and back.
  const scale = (words) => {
    const [low, high, from, to] = words.split(" ").map(Number);
    return {
      from,
      to,
      place: (value) => from + ((value - low) / (high - low)) * (to - from),
      value: (place) => low + ((place - from) / (to - from)) * (high - low),
    };
  };
  const driveAt = (time) => data.strokes.find((s) => time >= s.from_s && time <= s.release_s);

  // For each kind of curve: where the cursor stands at a frame, and which time a place means.
  const kinds = {
    stroke: {
      x: (time, stroke) => (stroke ? clipPage.alongOf(stroke, time) : null),
      time: (x, stroke) => clipPage.timeAlong(stroke, Math.min(Math.max(x, 0), 0.9999)),
    },
    drive: {
      x: (time) => {
        const drive = driveAt(time);
        return drive ? (100 * (time - drive.from_s)) / (drive.release_s - drive.from_s) : null;
      },
      time: (x, stroke) =>
        stroke.from_s + (Math.min(Math.max(x, 0), 100) / 100) * (stroke.release_s - stroke.from_s),
    },
    path: { x: () => null, time: () => null },
  };

  const strokeNear = () => {
    const here = clipPage.strokeAt(player.frame);
    if (here >= 0) return data.strokes[here];
    const time = clipPage.ownTime(player.frame);
    const away = (s) => Math.min(Math.abs(s.catch_s - time), Math.abs(s.next_s - time));
    return data.strokes.reduce((best, s) => (away(s) < away(best) ? s : best));
  };

  for (const svg of document.querySelectorAll("svg[data-over]")) {
    const kind = kinds[svg.dataset.over];
    const x = scale(svg.dataset.x);
    const y = scale(svg.dataset.y);
    const line = make(svg, "line", { class: "cursor", y1: y.from, y2: y.to });
    const dot = make(svg, "circle", { class: "cursor-dot", r: 5 });
    const series = data.series[svg.dataset.series];

    player.onFrame((index, number) => {
      const stroke = number >= 0 ? data.strokes[number] : null;
      const along = kind.x(clipPage.ownTime(index), stroke);
      line.toggleAttribute("hidden", along === null);
      if (along !== null) {
        line.setAttribute("x1", x.place(along));
        line.setAttribute("x2", x.place(along));
      }
      const path = svg.dataset.over === "path";
      const across = path ? data.series.handle_x[index] : along;
      const value = path ? data.series.handle_y[index] : series ? series[index] : null;
      const known = across !== null && value !== null;
      dot.toggleAttribute("hidden", !known);
      if (known) {
        dot.setAttribute("cx", x.place(across));
        dot.setAttribute("cy", y.place(value));
      }
    });

    if (svg.dataset.over === "path") continue;
    svg.classList.add("tappable");
    svg.addEventListener("click", (event) => {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(
        svg.getScreenCTM().inverse(),
      );
      player.goTo(clipPage.nearestOwn(kind.time(x.value(at.x), strokeNear())));
    });
  }
})();
