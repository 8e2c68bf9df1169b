// Ties each slider to its box, marks a box whose fault is told, holds still what is typed in. The page
// works without it.
"use strict";

function tie(slider) {
  const box = document.getElementById(slider.dataset.for);
  if (!box || slider.dataset.tied) return;
  slider.dataset.tied = "yes";
  slider.hidden = false;
  const follow = () => { if (box.value.trim() !== "" && isFinite(Number(box.value))) slider.value = box.value; };
  follow();
  box.addEventListener("input", follow);
  slider.addEventListener("input", () => {
    box.value = slider.value;
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
  box.form.addEventListener("reset", () => setTimeout(follow));
}

function mark() {
  for (const told of document.querySelectorAll("p.error[id^='error-']")) {
    const box = document.getElementById(told.id.slice("error-".length));
    if (!box) continue;
    if (told.textContent.trim()) box.setAttribute("aria-invalid", "true");
    else box.removeAttribute("aria-invalid");
  }
}

function begin() {
  document.documentElement.classList.add("with-script");
  document.querySelectorAll("input.slider").forEach(tie);
}

// What is typed in stays where it is on the screen when the answer above it grows.
let held = null;

function hold() {
  const box = document.activeElement;
  held = box && box.form ? { box, top: box.getBoundingClientRect().top } : null;
}

function keep() {
  if (!held || document.activeElement !== held.box) return;
  const moved = held.box.getBoundingClientRect().top - held.top;
  if (Math.abs(moved) > 1) window.scrollBy({ top: moved, behavior: "instant" });
}

if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", begin);
else begin();
document.addEventListener("htmx:before:swap", hold);
document.addEventListener("htmx:after:settle", mark);
document.addEventListener("htmx:after:swap", () => { mark(); begin(); keep(); });
