# SPDX-License-Identifier: GPL-3.0-or-later
"""Edits of job files against an independent YAML reader (PyYAML): every value of every example is
replaced, removed and joined by a new key, in turn, and the file must then hold what it held but for
that. The difference that is shown must lead from the one text to the other."""

import copy
import os
import re
import subprocess
import unittest
from pathlib import Path

import yaml

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = Path(os.environ["WF_BUILD"]) / "tests/system/job_edits"
SCRATCH = Path(os.environ["WF_SCRATCH"])

LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

# Shapes that the examples do not have.
SHAPES = {
    "odd.yaml": "# \u00e4\u20ac\n"
                "a  :   1 # \u00fc\t# twice\n"
                "'b' : \"x \\\" y\"   # quoted\n"
                "c:\n- name: A\n  x: [1,2 ,3]   # list\n-   name: B\n    x: []\n"
                "d: { e: 1 , f: {} , g: [ [1, 2], [3, {h: i}] ] }\n"
                "long:\n  {\n    p: 1,   # one\n    q: 2\n  }\n"
                "words: several words\n  in two lines\n"
                "m:\n    n:\n        o:\n            - - 1\n              - 2\n            - 3\n"
                "# the end",
    "block.yaml": "text: |\n  one\n  two\nfolded: >-\n  three\n\n  four\nlast:\n  - x: 1\n"
                  "    # between\n    y: 2\n\n\n",
    "crlf.yaml": "a: 1 # one\r\nb:\r\n  - {c: 2, d: 3}\r\n  - c: 4\r\n    d: 5\r\ne: {f: 6}",
}


def read(text):
    """Every single value as a text, as the job's reader takes them."""
    return yaml.load(text, Loader=LOADER)


def places(tree, path=()):
    yield path
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from places(value, path + (key,))
    elif isinstance(tree, list):
        for number, value in enumerate(tree):
            yield from places(value, path + (number,))


def words_of(path):
    words = ""
    for part in path:
        words += f"[{part}]" if isinstance(part, int) else f".{part}"
    return words.lstrip(".")


def at(tree, path):
    for part in path:
        tree = tree[part]
    return tree


def changed(tree, path, value):
    """A tree with one value changed; None: removed."""
    tree = copy.deepcopy(tree)
    parent = at(tree, path[:-1])
    if value is None:
        del parent[path[-1]]
    else:
        parent[path[-1]] = value
    return tree


def patched(text, diff):
    """The text that a unified diff leads to."""
    old = text.splitlines(keepends=True) if "\r" not in text else re.findall(r"[^\n]*\n|[^\n]+", text)
    new, at_line = [], 0
    lines = re.findall(r"[^\n]*\n", diff)[2:]
    for k, line in enumerate(lines):
        if line.startswith("@@"):
            begin = int(re.match(r"@@ -(\d+)", line).group(1)) - 1
            new += old[at_line:begin]
            at_line = begin
            continue
        if line.startswith("\\"):
            continue
        body = line[1:]
        if k + 1 < len(lines) and lines[k + 1].startswith("\\"):
            body = body[:-1]
        if line[0] in " -":
            assert old[at_line] == body, (old[at_line], body)
            at_line += 1
        if line[0] in " +":
            new.append(body)
    return "".join(new + old[at_line:])


class JobEdit(unittest.TestCase):
    def setUp(self):
        SCRATCH.mkdir(parents=True, exist_ok=True)
        for name, text in SHAPES.items():
            (SCRATCH / name).write_bytes(text.encode())
        self.files = sorted((ROOT / "examples").glob("*.yaml")) + [SCRATCH / n for n in SHAPES]

    def edit(self, path, edits):
        """(status, text, diff) of each edit of a file."""
        run = subprocess.run([PROGRAM, path], input="\n".join(edits).encode(), capture_output=True,
                             check=True)
        results, out = [], run.stdout
        while out:
            head, out = out.split(b"\n", 1)
            status, n_text, n_diff = (int(word) for word in head.split())
            results.append((status, out[:n_text].decode(), out[n_text:n_text + n_diff].decode()))
            out = out[n_text + n_diff:]
        self.assertEqual(len(results), len(edits))
        return results

    def check(self, make_edits, least):
        n_done = 0
        for file in self.files:
            before = file.read_bytes().decode()
            tree = read(before)
            wanted = list(make_edits(tree))
            results = self.edit(file, [words for words, _, _ in wanted])
            shared = re.search(r"&\w+", before)
            for (words, path, after), (status, text, diff) in zip(wanted, results):
                if status != 0 and shared:       # what others repeat is refused
                    continue
                with self.subTest(file=file.name, edit=words):
                    self.assertEqual(status, 0)
                    self.assertEqual(read(text), after)
                    self.assertEqual(patched(before, diff), text)
                    self.comments_are_kept(words, before, text)
                    n_done += 1
        self.assertGreater(n_done, least)

    def comments_are_kept(self, words, before, text):
        comments = re.findall(r"(?m)(?:^|\s)#.*$", before)
        if words.startswith("remove"):           # takes the comments of its lines along
            return
        for comment in comments:
            if not words.startswith("yaml"):
                self.assertIn(comment, text)

    def test_every_single_value_is_replaced(self):
        def edits(tree):
            for path in places(tree):
                if path and isinstance(at(tree, path), str):
                    for value in ["-1.25e-7", "two: words, # {with} 'marks'"]:
                        yield f"set {words_of(path)} {value}", path, changed(tree, path, value)
        self.check(edits, 700)

    def test_nothing_but_the_value_changes(self):
        for file in self.files:
            before = file.read_bytes().decode()
            tree = read(before)
            paths = [p for p in places(tree) if p and isinstance(at(tree, p), str)
                     and at(tree, p) != "7654321"]
            for path, (status, text, _) in zip(
                    paths, self.edit(file, [f"set {words_of(p)} 7654321" for p in paths])):
                if status != 0:
                    self.assertIn("&", before)
                    continue
                head, tail = text.split("7654321")
                with self.subTest(file=file.name, path=words_of(path)):
                    self.assertTrue(before.startswith(head.rstrip("\"' ")))
                    self.assertTrue(before.endswith(tail.lstrip("\"'")))

    def test_every_collection_is_replaced(self):
        def edits(tree):
            for path in places(tree):
                if path and not isinstance(at(tree, path), str):
                    yield f"yaml {words_of(path)} {{a: [1, b]}}", path, changed(
                        tree, path, {"a": ["1", "b"]})
        self.check(edits, 150)

    def test_every_value_is_removed(self):
        def edits(tree):
            for path in places(tree):
                if path:
                    yield f"remove {words_of(path)}", path, changed(tree, path, None)
        self.check(edits, 600)

    def test_every_mapping_takes_a_new_key(self):
        def edits(tree):
            for path in places(tree):
                if isinstance(at(tree, path), dict):
                    new = path + ("added_hz",)
                    yield f"set {words_of(new)} 1.5e9", path, changed(tree, new, "1.5e9")
                    deep = changed(tree, new, {"inner": {"k": "v"}})
                    yield f"set {words_of(new)}.inner.k v", path, deep
        self.check(edits, 200)

    def test_aliases_are_written_out_without_a_change_of_meaning(self):
        file = ROOT / "examples/spectral-line.yaml"
        before = file.read_bytes().decode()
        edits = [f"write_out recordings[{name}].streams[0]" for name in ["Alder", "Birch"]]
        for status, text, _ in self.edit(file, edits):
            self.assertEqual(status, 0)
            self.assertEqual(read(text), read(before))
            self.assertNotIn("*methanol", text)
        (SCRATCH / "own.yaml").write_text(text)
        self.files = [SCRATCH / "own.yaml"]
        tree = read(text)
        path = ("recordings", 1, "streams", 0, "sideband")
        (status, text, _), = self.edit(SCRATCH / "own.yaml", [f"set {words_of(path)} lower"])
        self.assertEqual(status, 0)
        self.assertEqual(read(text), changed(tree, path, "lower"))


if __name__ == "__main__":
    unittest.main(verbosity=1)
