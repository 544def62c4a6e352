"use strict";
// Elements of pages and pictures, and numbers as the page writes them. Texts only become text nodes.
const SVG = "http://www.w3.org/2000/svg";

const $ = (id) => document.getElementById(id);

function make(kind, attributes = {}, ...children) {
  const made = document.createElement(kind);
  for (const [name, value] of Object.entries(attributes)) {
    if (name in made) made[name] = value; else made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

function draw(kind, attributes = {}, text = "") {
  const drawn = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) drawn.setAttribute(name, value);
  if (text) drawn.textContent = text;
  return drawn;
}

const plain = (value) => String(Number(value.toPrecision(12)));
const three = (value) => String(Number(value.toPrecision(3)));

// As looks.py writes a time beside an axis.
function time(ms) {
  if (ms < 1) return `${three(ms * 1000)} µs`;
  return ms < 1000 ? `${three(ms)} ms` : `${three(ms / 1000)} s`;
}

const short = (name, letters = 18) =>
  name.length <= letters ? name : `${name.slice(0, letters - 1)}…`;
