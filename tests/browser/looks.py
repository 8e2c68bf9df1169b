"""What is looked for on a page as it stands: by axe-core, by what it does not judge, by width."""

from __future__ import annotations

from pathlib import Path

from windows import Window

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
# As published: npm package axe-core 4.14.1, axe.min.js.
AXE_SHA256 = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"
SERIOUS = ("serious", "critical")
RUN = """async rules => {
  const found = await axe.run(document, rules
    ? { runOnly: { type: "rule", values: rules } }
    : { rules: { "target-size": { enabled: true } } });
  const short = (all) => all.map(v => ({ id: v.id, impact: v.impact, nodes: v.nodes.map(n =>
    n.target.join(" ") + ": " + (n.any[0]?.message ?? n.none[0]?.message ?? n.all[0]?.message ?? "")) }));
  return { wrong: short(found.violations), unsure: short(found.incomplete) };
}"""

# What sticks to the edge of the window lies over whatever is behind it just then; that it never
# lies over what has the focus is looked at by itself, below and in the journeys.
LAID_FLAT = """() => { for (const e of document.querySelectorAll("body *"))
  if (getComputedStyle(e).position === "sticky") e.style.position = "static"; }"""


def axe(window: Window, *rules: str) -> dict:
    """What axe-core says of the page as it stands."""
    if not window.page.evaluate("() => 'axe' in window"):
        window.page.evaluate(AXE.read_text(encoding="utf-8"))
    window.page.evaluate(LAID_FLAT)
    told: dict = window.page.evaluate(RUN, list(rules) or None)
    return told


def serious(told: dict) -> list[str]:
    return [f"{v['id']} ({v['impact']}): {n}" for v in told["wrong"] if v["impact"] in SERIOUS
            for n in v["nodes"]]  # fmt: skip


PLAIN = """() => {
  const found = [], q = s => [...document.querySelectorAll(s)];
  const seen = e => e.checkVisibility() && e.getClientRects().length;
  const heads = q("h1,h2,h3,h4,h5,h6").filter(seen).map(h => +h.tagName[1]);
  if (heads.filter(h => h === 1).length !== 1) found.push(`main headings: ${heads}`);
  if (heads[0] !== 1) found.push(`first heading is of level ${heads[0]}`);
  heads.forEach((h, i) => { if (i && h > heads[i - 1] + 1) found.push(`level ${h} after ${heads[i - 1]}`); });
  if (document.documentElement.lang !== "en-GB") found.push("language");
  if (q("main").length !== 1) found.push("main");
  if (!document.title.trim()) found.push("title");
  q("[tabindex]").filter(e => e.tabIndex > 0).forEach(e => found.push(`tabindex ${e.outerHTML.slice(0, 80)}`));
  q("input:not([type=hidden]), select, textarea").filter(seen).forEach(e => {
    if (!e.labels.length && !e.ariaLabel) found.push(`no label: ${e.name}`); });
  q("svg").filter(seen).forEach(e => { if (e.getAttribute("role") !== "img" ||
    !(e.ariaLabel || e.getAttribute("aria-labelledby"))) found.push(`a picture without a name`); });
  q("table").filter(seen).forEach(e => { if (!e.caption || !e.querySelector("th[scope]"))
    found.push(`a table without caption or headings: ${e.textContent.slice(0, 60)}`); });
  q("button, .button, input:not([type=hidden]), select, summary, nav a").filter(seen).forEach(e => {
    const r = e.getBoundingClientRect();
    if (e.type === "checkbox" || e.type === "radio") { if (r.height < 24) found.push(`${r.height} px: ${e.name}`); }
    else if (r.height < 43.5) found.push(`${r.height} px high: ${e.outerHTML.slice(0, 90)}`); });
  return found;
}"""


def plain_faults(window: Window) -> list[str]:
    """One h1, no level skipped, the language, landmarks, labels, names, targets of 44 px."""
    told: list[str] = window.page.evaluate(PLAIN)
    return told


# Whether a click in the middle of something meets it, and not what lies over it.
CLEAR = """e => { const r = e.getBoundingClientRect();
  const t = document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2);
  return t === e; }"""

WIDTHS = (320, 390, 768, 1200)
TOO_WIDE = """width => {
  const out = [], framed = e => e.closest(".scroll, .wide, .slider, .skip, .unseen");
  if (document.documentElement.scrollWidth > width)
    out.push(`the page is ${document.documentElement.scrollWidth} px wide`);
  for (const e of document.querySelectorAll("main *, header *, footer *")) {
    if (!e.checkVisibility() || framed(e) || e.ownerSVGElement) continue;
    const r = e.getBoundingClientRect();
    if (r.width && (r.right > width + 1 || r.left < -1))
      out.push(`${e.tagName} ${Math.round(r.left)} to ${Math.round(r.right)}: ${e.outerHTML.slice(0, 90)}`);
  }
  for (const e of document.querySelectorAll(".scroll, .wide")) {
    if (!e.checkVisibility()) continue;
    const r = e.getBoundingClientRect();
    if (r.right > width + 1) out.push(`a frame ends at ${r.right}`);
    if (e.scrollWidth > e.clientWidth && (e.tabIndex !== 0 || getComputedStyle(e).overflowX === "visible"))
      out.push("a frame that cannot be scrolled by keyboard");
  }
  for (const e of document.querySelectorAll("button, .button, label, summary, th, td, dd, dt, h1, h2, h3"))
    if (e.checkVisibility() && !e.matches(".unseen, .unseen *") && e.scrollWidth > e.clientWidth + 1 &&
        getComputedStyle(e).overflowX !== "visible") out.push(`cut off: ${e.outerHTML.slice(0, 90)}`);
  return out.slice(0, 5);
}"""


def too_wide(window: Window) -> list[str]:
    """What does not fit, at every width; ends at the widest."""
    wrong = []
    for width in WIDTHS:
        window.size(width, 844)
        wrong += [f"at {width} px: {w}" for w in window.page.evaluate(TOO_WIDE, width)]
    return wrong
