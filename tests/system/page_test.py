# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a report in a browser: headless Chromium at the widths of a phone and of a desk."""

import re
import shutil
import sys
import unittest
from pathlib import Path

import numpy as np

import program
from invented_idi import Contents, Fringe, Scan, write

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
try:
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service
except ImportError:
    CHROMIUM = None
SKIPPED = 77

WIDTHS = (390, 1280)
HOSTILE = "<i>&\"'q"  # a name that is markup
# fringe and spectrum of 6 baselines, phase in time of those with fringes, closures,
# coherence and Allan deviation of baselines and stations, autocorrelations, weights
FIGURES = 6 * 2 + 3 + 1 + 3 + 4 + 1


def browser():
    options = Options()
    options.binary_location = CHROMIUM
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                     "--disable-dev-shm-usage", "--disable-background-networking"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    return webdriver.Chrome(service=Service(DRIVER), options=options)


BOXES = """
return [...document.querySelectorAll('figure svg')].map(svg => {
  const box = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('text')].filter(t => t.textContent.trim() !== '');
  const outside = texts.filter(t => {
    const b = t.getBoundingClientRect();
    return b.left < box.left - 1 || b.right > box.right + 1 || b.top < box.top - 1 ||
           b.bottom > box.bottom + 1;
  });
  return {
    width: box.width, height: box.height, left: box.left, right: box.right,
    label: svg.getAttribute('aria-label'), role: svg.getAttribute('role'),
    title: svg.querySelector('title') ? svg.querySelector('title').textContent : '',
    texts: texts.length, outside: outside.map(t => t.textContent),
    smallest: Math.min(...texts.map(t => Math.min(t.getBoundingClientRect().height,
                                                  t.getBoundingClientRect().width)
                                         / (t.textContent.length > 1 ? 1 : 0.5))),
  };
});
"""

# Contrast of two colours: W3C, Web Content Accessibility Guidelines 2.1, "relative luminance" and
# "contrast ratio"; 4.5 is the ratio of its success criterion 1.4.3.
CONTRASTS = """
const parts = text => text.match(/[\\d.]+/g).map(Number);
const light = ([r, g, b]) => [r, g, b].map(c => c / 255).map(
  c => c <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
).reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
const behind = element => {
  for (let e = element; e; e = e.parentElement) {
    const c = parts(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0) return c;
  }
  return [255, 255, 255];
};
const names = 'h1, h2, h3, p, .verdict, .note, figcaption, th, td, caption, a, svg text';
return [...document.querySelectorAll(names)].filter(e => e.textContent.trim() !== '').map(e => {
  const style = getComputedStyle(e);
  const ink = parts(e instanceof SVGElement ? style.fill : style.color);
  const [a, b] = [light(ink), light(behind(e))];
  return [(Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), e.className.toString(),
          e.tagName, e.textContent.slice(0, 40)];
}).sort((x, y) => x[0] - y[0])[0];
"""


class Page(program.SystemTest):
    @classmethod
    def setUpClass(cls):
        cls.scratch = Path(program.scratch())
        path = cls.scratch / "in.fits"
        write(path, Contents(
            stations=("Alder", "Birch", "Cedar", HOSTILE), sources=("Ousel", "O'x_{y}^&"), sigma=0.05,
            first_hz=(8.4e9, 8.408e9), products=(-1, 2), n_channels=32,
            scans=(Scan(43200.0, 64, 2),),
            station_phase_rad=lambda i, t: [0, np.sin(t), 1.2 * (t > 16), 0][i],
            clocks=((43200.0, 1, 1e-6, 0.0), (43200.0, 2, 2e-6, 0.0)),
            fringes={(0, 1): Fringe(3e-7, 1e-11, 0.1, 1.0), (0, 2): Fringe(2e-7, 0, 0.1, 0.5),
                     (1, 2): Fringe(-1e-7, -1e-11, 0.1, -0.5), (1, 3): Fringe(weight=0.5)}))
        done = program.run("report", path, "-o", cls.scratch / "out")
        if done.code != 0:
            raise AssertionError(done.err)
        cls.html = (cls.scratch / "out" / "report.html").read_text(encoding="utf-8")
        cls.browser = browser()

    @classmethod
    def tearDownClass(cls):
        cls.browser.quit()

    def setUp(self):
        self.folder = self.scratch

    def tearDown(self):
        pass

    def emulate(self, width, scheme="light", media=""):
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600})
        self.browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {
            "media": media, "features": [{"name": "prefers-color-scheme", "value": scheme}]})
        self.browser.get((self.scratch / "out" / "report.html").as_uri())

    def script(self, text):
        return self.browser.execute_script(text)

    def test_nothing_to_complain_of(self):
        for width in WIDTHS:
            self.emulate(width)
            self.assertEqual(self.browser.get_log("browser"), [])

    def test_fits_the_window(self):
        for width in WIDTHS:
            self.emulate(width)
            self.assertLessEqual(self.script("return document.documentElement.scrollWidth"), width)

    def test_every_figure_is_seen_and_named(self):
        for width in WIDTHS:
            self.emulate(width)
            boxes = self.script(BOXES)
            self.assertGreaterEqual(len(boxes), FIGURES)
            for box in boxes:
                with self.subTest(width=width, figure=box["label"]):
                    self.assertGreater(box["width"], 200)
                    self.assertGreater(box["height"], 80)
                    self.assertGreaterEqual(box["left"], 0)
                    self.assertLessEqual(box["right"], width)
                    self.assertEqual(box["role"], "img")
                    self.assertTrue(box["label"])
                    self.assertEqual(box["label"], box["title"])
                    self.assertGreater(box["texts"], 3)
                    self.assertEqual(box["outside"], [])
                    self.assertGreaterEqual(box["smallest"], 8, "points: too small to read")
            self.assertEqual(len({box["label"] for box in boxes}), len(boxes))

    def test_surfaces_are_decoded(self):
        self.emulate(1280)
        sizes = self.browser.execute_async_script("""
            const done = arguments[0];
            Promise.all([...document.querySelectorAll('figure image')].map(async image => {
              const copy = new Image();
              copy.src = image.getAttribute('href') || image.getAttribute('xlink:href');
              await copy.decode();
              return copy.naturalWidth * copy.naturalHeight;
            })).then(done, error => done(String(error)));""")
        self.assertIsInstance(sizes, list)
        self.assertGreaterEqual(len(sizes), 2 * 6)
        self.assertGreater(min(sizes), 2)

    def test_needs_nothing_from_elsewhere(self):
        self.assertEqual(re.findall(r"https?://|//\w+\.\w+|@import|url\((?!#)", self.html), [])
        for link in re.findall(r"(?:href|src)=[\"']([^\"']*)", self.html):
            self.assertTrue(link.startswith(("#", "data:")), link[:60])
        self.emulate(1280)
        fetched = self.script("return performance.getEntriesByType('resource').map(e => e.name)")
        self.assertEqual([name for name in fetched if not name.startswith("data:")], [])

    def test_headings_and_contents(self):
        self.emulate(1280)
        self.assertEqual(self.script("return document.querySelectorAll('h1').length"), 1)
        levels = self.script("return [...document.querySelectorAll('h1,h2,h3,h4')]"
                             ".map(e => Number(e.tagName[1]))")
        for before, after in zip(levels, levels[1:]):
            self.assertLessEqual(after, before + 1)
        ids = self.script("return [...document.querySelectorAll('[id]')].map(e => e.id)")
        self.assertEqual(len(ids), len(set(ids)))
        links = self.script("return [...document.querySelectorAll('nav a')]"
                            ".map(e => e.getAttribute('href'))")
        sections = self.script("return [...document.querySelectorAll('section')].map(e => e.id)")
        self.assertEqual(links, ["#" + name for name in sections])
        self.assertEqual(sections, ["summary", "overview", "baselines", "stations", "stability",
                                    "autocorrelations", "weights", "clocks", "losses", "origin"])
        self.assertEqual(self.script("return document.documentElement.lang"), "en")

    def test_names_are_text_and_never_markup(self):
        self.emulate(1280)
        names = self.script("return [...document.querySelectorAll('.stations h3')]"
                            ".map(e => e.textContent)")
        self.assertEqual(names, ["Alder", "Birch", "Cedar", HOSTILE])
        self.assertEqual(self.script("return document.querySelectorAll('main i').length"), 0)

    def test_verdicts_are_words(self):
        self.emulate(1280)
        words = self.script("return [...document.querySelectorAll('.verdict')]"
                            ".map(e => e.textContent)")
        self.assertEqual(words, ["Fringes on 2 of 3 baselines."] * 3
                         + ["No fringe on any of 3 baselines."])
        doubts = self.script("return [...document.querySelectorAll('.stations ul')]"
                             ".map(e => e.textContent)")
        self.assertIn(f"No fringe with {HOSTILE}, which has none with anybody.", doubts[0])
        kinds = self.script("return [...document.querySelectorAll('.stations > li')]"
                            ".map(e => e.className)")
        self.assertEqual(kinds[2:], ["good", "bad"])

    def test_readable_in_light_and_in_dark(self):
        for scheme in ("light", "dark"):
            self.emulate(1280, scheme)
            ratio, *where = self.script(CONTRASTS)
            self.assertGreaterEqual(ratio, 4.5, f"{scheme}: {where}")

    def test_prints_whole_figures_and_no_navigation(self):
        self.emulate(1280, media="print")
        style = "return getComputedStyle(document.querySelector('%s')).%s"
        self.assertEqual(self.script(style % ("nav", "display")), "none")
        self.assertEqual(self.script(style % ("figure", "breakInside")), "avoid")
        self.assertEqual(self.script(style % (".scroll", "overflowX")), "visible")
        page_width = 182 / 25.4 * 96  # A4 less the margins
        self.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": int(page_width), "height": 1000, "deviceScaleFactor": 1, "mobile": False})
        self.assertLessEqual(self.script("return document.documentElement.scrollWidth"),
                             page_width)


if __name__ == "__main__":
    if not (CHROMIUM and DRIVER):
        print("needs chromium, chromium-driver and python3-selenium")
        sys.exit(SKIPPED)
    unittest.main(verbosity=2)
