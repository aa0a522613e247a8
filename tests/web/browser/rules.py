"""The rules of look.md, table B7, that are measured on one page as it stands: rows 1 to 4, 7, 10, 12, 17, 18, 19.

`of_a_page` looks at a loaded page and returns all that is wrong. Daily: at tablet and phone size in light, at 320 px in the dark, each
asked all it is asked in one journey to the browser. Contrast is three quarters of the checker's time, and small targets half of the
rest: both are measured here (`WORDS`, `SMALL`, which asks for more), and the checker is asked for everything else, once, at tablet
size. `make soak` measures at every width in both themes, at 200 % too, and has the checker measure all of it at each.
"""

from __future__ import annotations

import json
import re
from typing import Any

from playwright.sync_api import Page

from web.browser import words
from web.served import CHECKER

WIDTHS = ((1180, 820), (820, 1180), (390, 844))
DAILY = (WIDTHS[0], WIDTHS[2])
NARROW, DOUBLED = (320, 800), (590, 410)  # WCAG 1.4.10; 1180 px at 200 %
DESK_PX, BENCH_PX, GAP_PX = 44, 72, 8  # rows 4
DESK_TEXT_PX, BENCH_TEXT_PX = 18, 24  # row 7: 24 px is 20 minutes of arc at 0.5 m on 149 px an inch; nothing under 18
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# The 7:1 of WCAG 1.4.6 (4.5:1 for large text). The checker has it in two rules: of the stricter one it leaves to the other what is under 4.5.
COLOUR_RULES = ["color-contrast", "color-contrast-enhanced"]
WHOLE = {"runOnly": {"type": "tag", "values": TAGS}, "rules": {rule: {"enabled": True} for rule in COLOUR_RULES}, "resultTypes": ["violations", "incomplete"]}  # fmt: skip
SHAPES = WHOLE | {"rules": {rule: {"enabled": False} for rule in [*COLOUR_RULES, "target-size"]}}
COLOURS = {"runOnly": {"type": "rule", "values": COLOUR_RULES}, "resultTypes": ["violations", "incomplete"]}
# The checker, which goes into a page once, when it is asked for first.
ASKED = f"""const asked = async (where, options) => {{
  if (!window.axe) await new Promise((done, wrong) => {{ const e = document.createElement('script'); e.src = '{CHECKER}'; e.onload = done; e.onerror = wrong; document.head.append(e); }});
  return axe.run(where, options); }};"""
# The colours themselves compared: ink of the words against the grounds that lie below them, 7:1, or 4.5:1 from 24 px (18.66 px bold) on.
# A ground that is a picture stays undecided: null.
FAINT = """const parts = (c) => { const m = c.match(/[\\d.]+/g).map(Number); return m.length > 3 ? m : [...m, 1]; };
  const lum = (c) => { const [r, g, b] = c.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const over = (top, under) => under.slice(0, 3).map((v, k) => top[k] * top[3] + v * (1 - top[3]));
  const faint = (e) => { const s = getComputedStyle(e), px = parseFloat(s.fontSize), layers = [];
    for (let n = e; n; n = n.parentElement) { const c = getComputedStyle(n); if (c.backgroundImage !== 'none') return null;
      const p = parts(c.backgroundColor); if (p[3]) layers.push(p); if (p[3] === 1) break; }
    const ground = layers.reduceRight((under, top) => over(top, under), [255, 255, 255]);
    const [x, y] = [lum(over(parts(e.ownerSVGElement ? s.fill : s.color), ground)), lum(ground)].sort((p, q) => q - p);
    return (x + 0.05) / (y + 0.05) < (px >= 24 || px >= 18.66 && s.fontWeight >= 700 ? 4.5 : 7); };"""
DECIDED = f"(places) => {{ {FAINT} return places.filter((place) => {{ const e = document.querySelector(place); return !e || faint(e) !== false; }}); }}"
# Every word of the page so compared; what stays undecided is the checker's.
WORDS = f"""async (options) => {{ {FAINT} {ASKED} const said = (e) => e.outerHTML.slice(0, 80), found = [], open = [];
  for (const e of document.body.querySelectorAll('*:not(script, style, option, title, desc, noscript)')) {{
    if (![...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && !e.matches('input:not([type=radio], [type=checkbox])') || !e.checkVisibility({{ visibilityProperty: true }})
      || e.closest('.for-eyes-off, .skip, :disabled, [aria-disabled=true]') || e.ownerSVGElement || e.getBoundingClientRect().width < 2) continue;
    const wrong = faint(e); if (wrong) found.push(said(e)); else if (wrong === null) open.push(e); }}
  if (open.length) for (const each of (await asked({{ include: open }}, options)).violations) found.push(...each.nodes.map((n) => n.html));
  return found; }}"""

# Tables that the checker leaves open: each column's head has filled cells below it.
HEADED = """(places) => places.filter((place) => { const table = document.querySelector(place); if (!table || table.tagName !== 'TABLE') return true;
  const heads = [...table.tHead.rows[0].cells], rows = [...table.tBodies].flatMap((body) => [...body.rows]);
  return heads.some((head, n) => head.tagName === 'TH' && !rows.some((row) => row.cells.length === heads.length && row.cells[n].textContent.trim())); })"""

# A target that the checker finds too small where a button that stays in sight lies over a part of it: measured again in the
# middle of the window, where a person scrolls it to.
STILL_SMALL = """async (places) => { const still = [];
  for (const place of places) { const e = document.querySelector(place); if (e) e.scrollIntoView({ block: 'center' });
    const { violations } = await axe.run({ include: [place] }, { runOnly: { type: 'rule', values: ['target-size'] } });
    if (!e || violations.length) still.push(place); }
  scrollTo(0, 0); return still; }"""

SMALL = """([least]) => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
  .filter(e => e.checkVisibility({ visibilityProperty: true }))
  .map(e => { const w = e.closest('label') && e.type && /radio|checkbox|file/.test(e.type) ? e.closest('label') : e;
              const r = w.getBoundingClientRect();
              return [e.tagName + ' ' + (e.innerText || e.name || e.id || '').slice(0, 30), r.width, r.height,
                      e.tagName === 'A' && getComputedStyle(e).display === 'inline' && e.closest('p, li, td, h1, h2, .note') !== null] })
  .filter(([n, w, h, inline]) => w > 2 && h > 2 && !inline && (w < least - 0.5 || h < least - 0.5))"""

# Controls of the work nearer to each other than the gap: boxes of one choice or one entry count as one. What keeps its place
# while the page scrolls beneath it is beside nothing of the page.
NEAR = """([gap]) => { const seen = new Map();
  for (const e of document.querySelectorAll('main a[href], main button, main input:not([type=hidden]), main select, main textarea')) {
    if (!e.checkVisibility() || e.tagName === 'A' && getComputedStyle(e).display === 'inline') continue;
    const fast = (n) => n && n !== document.body && (/fixed|sticky/.test(getComputedStyle(n).position) || fast(n.parentElement));
    if (fast(e)) continue;
    const holder = e.closest('label.pick') || e, r = holder.getBoundingClientRect();
    if (r.width > 2 && r.height > 2) seen.set(holder, r); }
  const all = [...seen], out = [];
  all.forEach(([a, p], i) => all.slice(i + 1).forEach(([b, q]) => {
    if (a.contains(b) || b.contains(a)) return;
    const apart = Math.max(p.left - q.right, q.left - p.right, p.top - q.bottom, q.top - p.bottom);
    if (apart < gap - 0.5) out.push([a.outerHTML.slice(0, 60), b.outerHTML.slice(0, 60), Math.round(apart * 10) / 10]); }));
  return out; }"""

TEXT = """() => { const out = []; const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) { const e = walk.currentNode.parentElement; const t = walk.currentNode.data.trim();
    if (!t || !e.offsetParent && e.ownerSVGElement === undefined || e.closest('.for-eyes-off, script, style, title, desc, option, .tag')) continue;
    const r = e.getBoundingClientRect(); if (r.width < 2) continue;
    let size = parseFloat(getComputedStyle(e).fontSize);
    const svg = e.ownerSVGElement; if (svg && svg.viewBox.baseVal.width) size *= svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    out.push([Math.round(size * 10) / 10, t.slice(0, 30), !!e.closest('main')]); }
  return out; }"""

# Row 3. The edge of a control, or the control itself, stands out from what lies round it by 3:1.
EDGES = """() => { const parts = (c) => { const m = c.match(/[\\d.]+/g).map(Number); return m.length > 3 ? m : [...m, 1]; };
  const lum = (c) => { const [r, g, b] = parts(c).map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4)); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor; if (parts(c)[3] === 1) return c; } return 'rgb(255, 255, 255)'; };
  return [...document.querySelectorAll('input:not([type=hidden]), select, textarea, button')]
    .filter((e) => e.checkVisibility() && e.getBoundingClientRect().width > 2 && getComputedStyle(e).opacity !== '0' && !(e.type === 'file'))
    .map((e) => { const round = ground(e.parentElement), holders = [e, e.closest('.box, .display, .entry, .many, .one, label.pick')].filter(Boolean);
      if (e.tagName === 'BUTTON' && /underline/.test(getComputedStyle(e).textDecorationLine)) return [e.outerHTML.slice(0, 60), 21];
      let best = 1;
      for (const h of holders) { const s = getComputedStyle(h), out = ground(h.parentElement);
        for (const side of ['Top', 'Right', 'Bottom', 'Left']) if (parseFloat(s[`border${side}Width`]) && s[`border${side}Style`] !== 'none') best = Math.max(best, ratio(s[`border${side}Color`], out));
        if (parts(s.backgroundColor)[3] === 1) best = Math.max(best, ratio(s.backgroundColor, out));
        if (e.matches('[type=radio], [type=checkbox]') && s.appearance !== 'none') best = Math.max(best, ratio(s.accentColor === 'auto' ? s.color : s.accentColor, out)); }
      return [e.outerHTML.slice(0, 60), Math.round(best * 100) / 100]; })
    .filter(([, best]) => best < 3); }"""

# Row 10. Text spacing of WCAG 1.4.12, laid over the page as a reader's own style sheet.
SPACED = """() => { const own = window.spaced = new CSSStyleSheet();
  own.replaceSync('* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important } p { margin-bottom: 2em !important }');
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, own]; }"""
PLAIN = (
    "() => { document.adoptedStyleSheets = document.adoptedStyleSheets.filter((sheet) => sheet !== window.spaced); }"
)
CUT = """() => [...document.querySelectorAll('body *')].filter((e) => e.checkVisibility() && !e.closest('svg, .for-eyes-off, .skip, select, input, textarea')
    && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
  .filter((e) => { const s = getComputedStyle(e); return /hidden|clip/.test(s.overflowX + s.overflowY) && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1); })
  .map((e) => e.outerHTML.slice(0, 80))"""

NONE = "() => []"  # where a rule asks for nothing

# Row 19. A box for a number has its unit beside it and in its label.
UNITS = """() => [...document.querySelectorAll('input[inputmode=decimal]')].filter((e) => {
    const unit = e.parentElement.querySelector('span'), label = document.querySelector(`label[for="${e.id}"]`);
    return unit && unit.innerText && !(label && label.innerText.includes(unit.innerText)) && !/of \\d/.test(unit.innerText) }).map((e) => e.name)"""
UNSPACED = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?:psi|bar|kPa|mm|ml|kg|N·m|N·cm|°C|km/h)(?!\w)")


SIDEWAYS = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
MAIN_BUTTONS = "() => [...document.querySelectorAll('.go')].filter((e) => e.checkVisibility({ visibilityProperty: true }) && e.getBoundingClientRect().width > 0).length"
SAID = "() => document.body.innerText"
STYLED = "() => document.querySelectorAll('[style]').length"
SPUN = "() => document.querySelectorAll('input[type=number]').length"


# Two frames on, the page is laid out; the plan page asks for its pictures again, drawn for the width that it has; a find box has the
# list of what was typed last, and not of the letters before.
SETTLED = """() => new Promise((done, fail) => { const end = performance.now() + 30000;
  const look = () => { const asks = document.querySelector('form[data-asking], [role=listbox][aria-busy=true]');
    if (!asks) done(); else if (performance.now() < end) setTimeout(look, 30); else fail(new Error(`still asks: ${asks.outerHTML.slice(0, 200)}`)); };
  requestAnimationFrame(() => requestAnimationFrame(look)); })"""


def together(page: Page, *asked: tuple[str, Any]) -> list[Any]:
    """What each script says of the page once it stands as it will, in one journey to the browser and back."""
    each = ", ".join(f"await ({script})({json.dumps(given)})" for script, given in asked)
    return list(page.evaluate(f"async () => {{ await ({SETTLED})(); return [{each}]; }}"))


def sideways(page: Page) -> int:
    return int(page.evaluate(SIDEWAYS))


def settled(page: Page) -> None:
    """Wait until the page stands as it will."""
    page.evaluate(SETTLED)


def resize(page: Page, size: tuple[int, int]) -> None:
    """Another width; it is laid out by the time that `together` or `checked` asks."""
    page.set_viewport_size({"width": size[0], "height": size[1]})


def sized(page: Page, size: tuple[int, int]) -> None:
    """Another width, once the page has been laid out for it."""
    resize(page, size)
    settled(page)


def checked(page: Page, options: dict[str, Any] = WHOLE) -> list[Any]:
    """What the checker finds, and what it can't decide and nobody has reviewed: rule and places."""
    found = page.evaluate(
        f"""async (options) => {{ {ASKED} await ({SETTLED})(); const {{ violations, incomplete }} = await asked(document, options);
          const short = (kind) => ({{ id, nodes }}) => [kind, id, nodes.map((n) => String(n.target))];
          return [...violations.map(short('found')), ...incomplete.map(short('not decided'))]; }}""",
        options,
    )
    wrong = []
    for kind, rule, places in found:
        if kind == "not decided" and rule in COLOUR_RULES:
            places = page.evaluate(DECIDED, places)
        if kind == "not decided" and rule == "th-has-data-cells":
            places = page.evaluate(HEADED, places)
        if kind == "found" and rule == "target-size":
            places = page.evaluate(STILL_SMALL, places)
        if places:
            wrong.append((kind, rule, places[:4]))
    return wrong


def of_a_page(page: Page, bench_page: bool = False, everywhere: bool = False) -> list[Any]:
    """All that is wrong with the page at tablet and phone size, light and dark; `everywhere`: at every width, to the checker too."""
    wrong = _light(page, bench_page, everywhere) + _spaced(page)
    page.emulate_media(color_scheme="dark")
    for size in (*reversed(WIDTHS), NARROW, DOUBLED) if everywhere else (NARROW,):
        resize(page, size)
        faint, edges, over, cut = together(
            page, (WORDS, COLOURS), (EDGES, []), (SIDEWAYS, []), (CUT if size not in WIDTHS else NONE, [])
        )
        wrong += [("dark", size[0], "faint words", found) for found in faint]
        wrong += [("dark", size[0], "faint edge", *edge) for edge in edges]
        if over > 0:
            wrong.append((size[0], "scrolls sideways", over))
        wrong += [(size[0], "cut", each) for each in cut]
        if everywhere:
            wrong += [("dark", size[0], *found) for found in checked(page, COLOURS)]
    return json.loads(json.dumps(wrong))  # type: ignore[no-any-return]


def _light(page: Page, bench_page: bool, everywhere: bool) -> list[Any]:
    wrong: list[Any] = []
    for size in WIDTHS if everywhere else DAILY:
        first = size == WIDTHS[0]
        resize(page, size)
        if everywhere or first:
            wrong += [(size[0], "checker", *found) for found in checked(page, WHOLE if everywhere else SHAPES)]
        faint, over, small, edges, near, texts, main_buttons, said, units, styled, spun = together(
            page, (WORDS, COLOURS), (SIDEWAYS, []), (SMALL, [DESK_PX]), (EDGES, []), (NEAR if bench_page else NONE, [GAP_PX]),
            (TEXT if first else NONE, []), (MAIN_BUTTONS, []), (SAID, []), (UNITS, []), (STYLED, []), (SPUN, []),
        )  # fmt: skip
        if over > 0:
            wrong.append((size[0], "scrolls sideways", over))
        wrong += [(size[0], "faint words", found) for found in faint]
        wrong += [(size[0], "small target", *each) for each in small]
        wrong += [(size[0], "faint edge", *each) for each in edges]
        wrong += [(size[0], "near", *each) for each in near]
        for px, text, inside in texts:
            if px < (BENCH_TEXT_PX if bench_page and inside else DESK_TEXT_PX) - 0.05:
                wrong.append(("small text", px, text))
        if main_buttons > 1 or (bench_page and main_buttons != 1):
            wrong.append((size[0], "main buttons", main_buttons))
        wrong += [(size[0], "words", *found) for found in words.findings(said)]
        wrong += [(size[0], "no space before the unit", found.group()) for found in UNSPACED.finditer(said)]
        wrong += [(size[0], "unit not in the label", name) for name in units]
        wrong += [("style attributes", styled)] if styled else []
        wrong += [("type=number",)] if spun else []
    return wrong


def _spaced(page: Page) -> list[Any]:
    """At the width that it has, the phone's: the spacing is laid on and taken off in the same journey."""
    over, cut = together(page, (SPACED, []), (SIDEWAYS, []), (CUT, []), (PLAIN, []))[1:3]
    wrong: list[Any] = [("spaced text", "cut", each) for each in cut]
    if over > 1:  # spacing is laid on in fractions of a pixel; one of them rounded up hides nothing
        wrong.append(("spaced text", "scrolls sideways", over))
    return wrong
