"use strict";
// A finger on a picture reads its values; two fingers, or a stretch drawn with the mouse, look closer. Without this
// script the picture stays as it is.
const GRID = 10000;
const SVG = "http://www.w3.org/2000/svg";

function pieces(path) {
  const found = [];
  let x = 0, y = 0;
  for (const [, kind, dx, dy] of path.matchAll(/([Mlh])(-?\d+)(?: ?(-?\d+))?/g)) {
    if (kind === "h") { continue; }
    [x, y] = kind === "M" ? [+dx, +dy] : [x + +dx, y + +dy];
    if (kind === "M") { found.push([]); }
    found[found.length - 1].push([x, y]);
  }
  return found;
}

function crossings(curve, x) {
  const met = [];
  for (const piece of curve.pieces) {
    const round = curve.kind === "band" ? [...piece, piece[0]] : piece;
    for (let k = 1; k < round.length; k += 1) {
      const [[x0, y0], [x1, y1]] = [round[k - 1], round[k]];
      if (x0 !== x1 && (x0 <= x) !== (x1 <= x)) { met.push(y0 + (y1 - y0) * (x - x0) / (x1 - x0)); }
    }
  }
  return met;
}

function nearest(curve, x, reach) {
  const points = curve.pieces.flat().filter((point) => Math.abs(point[0] - x) <= reach);
  return points.sort((one, other) => Math.abs(one[0] - x) - Math.abs(other[0] - x)).slice(0, 1).map((point) => point[1]);
}

const digits = (range) => Math.max(0, Math.ceil(-Math.log10(Math.abs(range) / 100)));
const pair = (text) => text.split(" ").map(Number);

function measured(label) {
  const found = /^(.*?)\s*\[(.*)\]$/.exec(label);
  return found ? { name: found[1], unit: found[2] } : { name: label, unit: "" };
}

function plotOf(svg) {
  const curves = [...svg.querySelectorAll(".curves path")].map((element) => ({
    element, kind: element.getAttribute("class"), name: element.dataset.name || "", pieces: pieces(element.getAttribute("d")),
    colour: element.getAttribute(element.getAttribute("class") === "band" ? "fill" : "stroke"),
  }));
  const shades = [...svg.querySelectorAll(".shades rect")].map((element) => ({
    element, from: parseFloat(element.getAttribute("x")), wide: parseFloat(element.getAttribute("width")), said: element.dataset.said,
  }));
  const hair = document.createElementNS(SVG, "line");
  hair.setAttribute("class", "here");
  hair.setAttribute("y1", "0");
  hair.setAttribute("y2", "100%");
  hair.setAttribute("visibility", "hidden");
  svg.append(hair);
  svg.setAttribute("tabindex", "0");
  return { svg, curves, shades, hair, x: pair(svg.dataset.x), y: pair(svg.dataset.y), across: measured(svg.dataset.across), up: measured(svg.dataset.up) };
}

function sentence(plot, at, view) {
  const [from, to] = plot.x;
  const x = GRID * (at - from) / (to - from), reach = GRID * 0.02 * (view[1] - view[0]) / (to - from);
  const value = (y) => (plot.y[1] - (plot.y[1] - plot.y[0]) * y / GRID).toFixed(digits(plot.y[1] - plot.y[0]));
  const seen = plot.curves.filter((curve) => !curve.element.classList.contains("unseen-curve"));
  const lines = seen.filter((curve) => curve.kind !== "band");
  const said = [];
  for (const curve of lines) {
    const met = curve.kind === "dots" ? nearest(curve, x, reach) : crossings(curve, x).slice(0, 1);
    if (!met.length) { continue; }
    const band = seen.find((other) => other.kind === "band" && other.colour === curve.colour);
    const ends = band ? crossings(band, x).sort((one, other) => other - one) : [];
    const within = ends.length > 1 ? ` (${value(ends[0])} to ${value(ends[ends.length - 1])})` : "";
    const name = curve.name && lines.filter((other) => other.name).length > 1 ? curve.name.replace(/ \(.*/, "") : plot.up.name;
    said.push(`${name} ${value(met[0])}${plot.up.unit && ` ${plot.up.unit}`}${within}`);
  }
  return said;
}

function marksAt(plot, at, view) {
  const share = 100 * (at - plot.x[0]) / (plot.x[1] - plot.x[0]);
  const near = 100 * 0.015 * (view[1] - view[0]) / (plot.x[1] - plot.x[0]);
  return plot.shades.filter((each) => each.said && share >= each.from - near && share <= each.from + each.wide + near).map((each) => each.said);
}

function ruled(plot, view) {
  const room = plot.svg.getBoundingClientRect().width > 480 ? 8 : 5;
  const rough = (view[1] - view[0]) / room, power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 2.5, 5, 10].find((each) => each * power >= rough);
  const group = plot.svg.querySelector(".across");
  group.replaceChildren();
  for (let at = Math.ceil(view[0] / step) * step; at <= view[1] + step * 1e-6; at += step) {
    const share = `${100 * (at - view[0]) / (view[1] - view[0])}%`;
    const line = document.createElementNS(SVG, "line"), text = document.createElementNS(SVG, "text");
    for (const [name, value] of Object.entries({ x1: share, x2: share, y1: "0", y2: "100%", stroke: "#d9dbcf" })) { line.setAttribute(name, value); }
    for (const [name, value] of Object.entries({ x: share, y: "100%", dy: "19", "text-anchor": "middle" })) { text.setAttribute(name, value); }
    text.textContent = String(+at.toPrecision(9));
    group.append(line, text);
  }
}

function start(picture) {
  const plots = [...picture.querySelectorAll(".plot[data-x]")].map(plotOf);
  if (!plots.length) { return; }
  const groups = new Map();
  for (const plot of plots) {
    const same = groups.get(plot.svg.dataset.x) || { plots: [], whole: plot.x, view: plot.x, at: null };
    same.plots.push(plot);
    groups.set(plot.svg.dataset.x, same);
  }
  const reads = picture.querySelector(".reads"), [nearer, whole] = picture.querySelectorAll(".look button");
  let latest = [...groups.values()][0];

  function look(group, from, to) {
    const [least, most] = group.whole, wide = Math.min(Math.max(to - from, (most - least) / 200), most - least);
    const start = Math.min(Math.max(from, least), most - wide);
    group.view = [start, start + wide];
    const share = (x) => (x - least) / (most - least);
    const [left, span] = [share(start), wide / (most - least)];
    for (const plot of group.plots) {
      plot.svg.querySelector(".curves").setAttribute("viewBox", `${GRID * left} 0 ${GRID * span} ${GRID}`);
      for (const each of plot.shades) {
        each.element.setAttribute("x", `${(each.from - 100 * left) / span}%`);
        each.element.setAttribute("width", `${Math.max(each.wide / span, 0.3)}%`);
      }
      ruled(plot, group.view);
    }
    read(group, group.at);
  }

  function read(group, at) {
    latest = group;
    group.at = at;
    if (at === null) { return; }
    const share = (at - group.view[0]) / (group.view[1] - group.view[0]);
    for (const plot of group.plots) {
      plot.hair.setAttribute("visibility", share >= 0 && share <= 1 ? "visible" : "hidden");
      plot.hair.setAttribute("x1", `${100 * share}%`);
      plot.hair.setAttribute("x2", `${100 * share}%`);
    }
    const { name, unit } = group.plots[group.plots.length - 1].across;
    const here = `${name} ${at.toFixed(digits(group.view[1] - group.view[0]))}${unit && ` ${unit}`}`;
    const said = group.plots.flatMap((plot) => sentence(plot, at, group.view));
    const why = [...new Set(group.plots.flatMap((plot) => marksAt(plot, at, group.view)))];
    reads.textContent = [`${here}: ${said.join("; ") || "nothing drawn"}.`, ...why].join(" ");
  }

  function closer(group, middle, times) {
    const half = times * (group.view[1] - group.view[0]) / 2;
    look(group, middle - half, middle + half);
  }

  for (const group of groups.values()) {
    for (const plot of group.plots) {
      const fingers = new Map();
      let begun = null, apart = null, stretch = null;
      const place = (event) => {
        const box = plot.svg.getBoundingClientRect();
        return Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
      };
      const value = (share) => group.view[0] + share * (group.view[1] - group.view[0]);
      plot.svg.addEventListener("pointerdown", (event) => {
        plot.svg.setPointerCapture(event.pointerId);
        fingers.set(event.pointerId, place(event));
        begun = event.pointerType === "mouse" && fingers.size === 1 ? place(event) : null;
        if (fingers.size === 2) {
          const [one, other] = [...fingers.values()];
          apart = { from: value(one), to: value(other) };
        } else { read(group, value(place(event))); }
      });
      plot.svg.addEventListener("pointermove", (event) => {
        if (!fingers.has(event.pointerId)) {
          if (event.pointerType === "mouse") { read(group, value(place(event))); }
          return;
        }
        fingers.set(event.pointerId, place(event));
        const [one, other] = [...fingers.values()];
        if (fingers.size === 2 && apart && Math.abs(other - one) > 0.05) {
          const span = (apart.to - apart.from) / (other - one), from = apart.from - one * span;
          if (span > 0) { look(group, from, from + span); }
          return;
        }
        read(group, value(place(event)));
        if (begun !== null && Math.abs(place(event) - begun) > 0.02) {
          if (!stretch) {
            stretch = document.createElementNS(SVG, "rect");
            stretch.setAttribute("class", "stretch");
            stretch.setAttribute("height", "100%");
            plot.svg.append(stretch);
          }
          stretch.setAttribute("x", `${100 * Math.min(begun, place(event))}%`);
          stretch.setAttribute("width", `${100 * Math.abs(place(event) - begun)}%`);
        }
      });
      for (const kind of ["pointerup", "pointercancel"]) {
        plot.svg.addEventListener(kind, (event) => {
          if (stretch) {
            const ends = [value(begun), value(place(event))].sort((one, other) => one - other);
            stretch.remove();
            stretch = null;
            if (kind === "pointerup") { look(group, ...ends); }
          }
          fingers.delete(event.pointerId);
          begun = apart = null;
        });
      }
      plot.svg.addEventListener("keydown", (event) => {
        const step = (group.view[1] - group.view[0]) / 50, at = group.at === null ? group.view[0] : group.at;
        const moved = { ArrowLeft: at - step, ArrowRight: at + step }[event.key];
        if (moved === undefined) { return; }
        event.preventDefault();
        group.at = Math.min(Math.max(moved, group.whole[0]), group.whole[1]);
        if (group.at < group.view[0] || group.at > group.view[1]) { closer(group, group.at, 1); }
        read(group, group.at);
      });
    }
  }
  nearer.addEventListener("click", () => closer(latest, latest.at === null ? (latest.view[0] + latest.view[1]) / 2 : latest.at, 0.5));
  whole.addEventListener("click", () => look(latest, ...latest.whole));
  const curves = plots.flatMap((plot) => plot.curves);
  const lines = new Set(curves.filter((curve) => curve.name && curve.kind !== "band").map((curve) => curve.name));
  for (const item of picture.querySelectorAll(".legend li")) {
    const named = curves.filter((curve) => curve.name === item.textContent.trim().replace(/\u00a0/g, " "));
    if (!named.length || lines.size < 2) { continue; }
    const colours = named.filter((curve) => curve.kind !== "band").map((curve) => curve.colour);
    const also = curves.filter((curve) => curve.kind === "band" && !curve.name && colours.includes(curve.colour));
    const button = document.createElement("button");
    button.type = "button";
    button.setAttribute("aria-pressed", "true");
    button.append(...item.childNodes);
    item.append(button);
    button.addEventListener("click", () => {
      const shown = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(shown));
      for (const curve of [...named, ...also]) { curve.element.classList.toggle("unseen-curve", !shown); }
      read(latest, latest.at);
    });
  }
}

document.querySelectorAll("figure.picture").forEach(start);
