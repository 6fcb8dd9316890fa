const SVG = "http://www.w3.org/2000/svg";
const ZOOMS = [1, 1.5, 2, 3, 4];

function made(tag, attributes, parent) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (parent) parent.appendChild(element);
  return element;
}

function button(text, label, parent, onClick) {
  const element = document.createElement("button");
  element.type = "button";
  element.textContent = text;
  if (label) element.setAttribute("aria-label", label);
  element.addEventListener("click", onClick);
  parent.appendChild(element);
  return element;
}

function toQuestion(index) {
  const card = document.querySelector(`.st-key-question-${index}`);
  if (!card) return;
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  card.scrollIntoView({ behavior: still ? "auto" : "smooth", block: "start" });
}

function drawMark(svg, mark, words) {
  const letter = mark.letter;
  const leads = mark.question !== null && mark.kind !== "given" && mark.kind !== "line";
  const group = made("g", { class: leads ? "mark lead" : "mark" }, svg);
  group.style.setProperty("--wide", `${0.14 * letter}px`);
  if (leads) {
    group.setAttribute("role", "button");
    group.setAttribute("tabindex", "0");
    group.setAttribute("aria-label", `${mark.text}. ${words.lead}`);
    group.addEventListener("click", () => toQuestion(mark.question));
    group.addEventListener("keydown", (event) => {
      if (event.key === "Enter" || event.key === " ") {
        event.preventDefault();
        toQuestion(mark.question);
      }
    });
  }
  const [x, y, width, height] = mark.box;
  if (mark.kind !== "question") {
    const strong = mark.filled ? 0.14 : 0.06;
    const outline = made("rect", {
      class: "outline", x, y, width, height, rx: letter / 3, fill: "#fff", "fill-opacity": 0,
      stroke: mark.colour, "stroke-width": strong * letter,
    }, group);
    if (mark.dashed) outline.setAttribute("stroke-dasharray", `${letter / 3} ${letter / 3}`);
  }
  const [left, top, wide, tall] = mark.label;
  const pad = letter * 0.35;
  made("rect", {
    class: "ground", x: left, y: top, width: wide, height: tall, rx: letter / 3,
    fill: mark.filled ? mark.colour : "#fff", stroke: mark.colour, "stroke-width": 1,
  }, group);
  const ink = mark.filled ? "#fff" : mark.colour;
  const corners = mark.corners.map(([u, v]) => `${left + pad + letter * u},${top + pad + letter * v}`);
  made("polygon", { points: corners.join(" "), fill: ink }, group);
  const text = made("text", {
    x: left + pad + 1.3 * letter, y: top + tall / 2, fill: ink, "font-size": letter,
    "dominant-baseline": "central",
  }, group);
  text.textContent = mark.text;
}

function dragToPan(frame) {
  let from = null;
  frame.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "mouse" || event.button !== 0) return;
    from = { x: event.clientX, y: event.clientY, left: frame.scrollLeft, top: frame.scrollTop };
  });
  frame.addEventListener("pointermove", (event) => {
    if (!from) return;
    frame.classList.add("dragging");
    frame.scrollLeft = from.left - (event.clientX - from.x);
    frame.scrollTop = from.top - (event.clientY - from.y);
  });
  const stop = () => { from = null; frame.classList.remove("dragging"); };
  frame.addEventListener("pointerup", stop);
  frame.addEventListener("pointerleave", stop);
}

function built(root, words) {
  const tools = document.createElement("div");
  tools.className = "tools";
  root.appendChild(tools);
  const frame = document.createElement("div");
  frame.className = "frame";
  frame.tabIndex = 0;
  frame.setAttribute("role", "region");
  frame.setAttribute("aria-label", words.frame);
  root.appendChild(frame);
  const state = { zoom: 0, frame, svg: null, image: null, turn: 0 };
  const set = (zoom) => {
    state.zoom = Math.min(Math.max(zoom, 0), ZOOMS.length - 1);
    const before = frame.scrollWidth;
    const middle = [frame.scrollLeft + frame.clientWidth / 2, frame.scrollTop + frame.clientHeight / 2];
    state.svg.style.width = `${100 * ZOOMS[state.zoom]}%`;
    const grown = frame.scrollWidth / before;
    frame.scrollLeft = middle[0] * grown - frame.clientWidth / 2;
    frame.scrollTop = middle[1] * grown - frame.clientHeight / 2;
  };
  state.set = set;
  button("−", words.smaller, tools, () => set(state.zoom - 1));
  button("+", words.larger, tools, () => set(state.zoom + 1));
  button(words.whole, "", tools, () => set(0));
  const marks = button(words.marks, "", tools, () => {
    const shown = frame.classList.toggle("bare");
    marks.setAttribute("aria-pressed", String(!shown));
  });
  marks.setAttribute("aria-pressed", "true");
  dragToPan(frame);
  root.viewer = state;
  return state;
}

function bringIntoView(state, focus, size) {
  const [x, y, width, height] = focus.box;
  state.frame.scrollIntoView({ block: "nearest" });
  state.set(ZOOMS.findLastIndex((zoom) => zoom * width <= size[0]));
  const scale = state.svg.clientWidth / size[0];
  state.frame.scrollLeft = (x + width / 2) * scale - state.frame.clientWidth / 2;
  state.frame.scrollTop = (y + height / 2) * scale - state.frame.clientHeight / 2;
  const ring = made("rect", {
    class: "focus seen", x: x - 12, y: y - 12, width: width + 24, height: height + 24, rx: 12,
    "stroke-width": 8,
  }, state.svg);
  ring.addEventListener("animationend", () => ring.remove());
}

export default function (component) {
  const { data, parentElement } = component;
  const root = parentElement.querySelector(".sheet");
  const state = root.viewer ?? built(root, data.words);
  const [width, height] = data.size;
  const svg = made("svg", { viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": data.words.page });
  made("image", { href: data.image, width, height }, svg);
  for (const mark of data.marks) drawMark(svg, mark, data.words);
  svg.style.width = `${100 * ZOOMS[state.zoom]}%`;
  if (state.svg) state.svg.replaceWith(svg);
  else state.frame.appendChild(svg);
  state.svg = svg;
  if (data.focus && data.focus.turn !== state.turn) {
    state.turn = data.focus.turn;
    bringIntoView(state, data.focus, data.size);
  }
}
