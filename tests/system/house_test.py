# SPDX-License-Identifier: GPL-3.0-or-later
"""The house rules that a compiler does not check: who includes whom, and what the library must
never call. Sources: DEVELOPERS.md, "The house"."""

import re
import unittest
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIB = ROOT / "lib"
# In the order of the data; a folder includes only what stands above it.
FOLDERS = ["base", "observation", "recording", "statistics", "delay", "engine", "visibility",
           "fringe", "simulate", "run", "search", "throughput"]
PUBLIC_OF = {"status": "base", "time": "base", "version": "base",
             "job_edit": "observation"}


def sources():
    return [path for folder in FOLDERS for path in sorted((LIB / folder).glob("*.[ch]"))]


def without_comments(text):
    return re.sub(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\])*"', "", text, flags=re.DOTALL)


class House(unittest.TestCase):
    def test_there_are_sources_to_look_at(self):
        self.assertGreater(len(sources()), 40)

    def test_includes_point_upward_only(self):
        wrong = []
        for path in sources():
            level = FOLDERS.index(path.parent.name)
            for included in re.findall(r'#include ["<](?:whitefringe/)?([a-z_]+)[/.]',
                                       path.read_text(encoding="utf-8")):
                folder = PUBLIC_OF.get(included, included)
                if folder in FOLDERS and FOLDERS.index(folder) > level:
                    wrong.append(f"{path.relative_to(ROOT)} includes {folder}")
        self.assertEqual(wrong, [])

    def test_openmp_stands_in_one_file(self):
        users = [str(path.relative_to(LIB)) for path in sources()
                 if re.search(r"omp\.h|#pragma omp", path.read_text(encoding="utf-8"))]
        self.assertEqual(users, ["run/parallel.c"])

    def test_vector_instructions_stand_in_their_files(self):
        for path in sources():
            if "immintrin.h" in path.read_text(encoding="utf-8"):
                self.assertRegex(path.name, r"_(avx2|avx512)\.[ch]$")

    def test_the_library_never_prints_ends_or_looks_around(self):
        forbidden = re.compile(
            r"(?<![a-z_0-9>.])(printf|puts|putchar|perror|exit|_exit|abort|getenv|time|clock|rand|srand|"
            r"setlocale|assert)\s*\(|\b(stdout|stderr)\b")
        wrong = []
        for path in sources():
            if path.name == "check.h":
                continue
            for match in forbidden.finditer(without_comments(path.read_text(encoding="utf-8"))):
                wrong.append(f"{path.relative_to(ROOT)}: {match.group(0)}")
        self.assertEqual(wrong, [])

    def test_memory_comes_from_one_place(self):
        wrong = [str(path.relative_to(LIB)) for path in sources()
                 if path.name != "memory.c" and
                 re.search(r"(?<![a-z_])(malloc|calloc|realloc|free|strdup)\s*\(",
                           without_comments(path.read_text(encoding="utf-8")))]
        self.assertEqual(wrong, [])

    def test_the_top_level_holds_what_was_agreed(self):
        agreed = {"README.md", "DEVELOPERS.md", "LICENSE", "CMakeLists.txt", "lib", "cli", "tests",
                  "examples", "bench"}
        found = {path.name for path in ROOT.iterdir()
                 if not path.name.startswith((".", "build"))}
        self.assertEqual(found - agreed, set())
        self.assertEqual(agreed - found, set())

    def test_every_file_names_its_licence(self):
        for path in sources() + sorted((ROOT / "cli").rglob("*.[ch]")):
            head = path.read_text(encoding="utf-8").splitlines()[0]
            self.assertIn("SPDX-License-Identifier: GPL-3.0-or-later", head, path)


if __name__ == "__main__":
    unittest.main(verbosity=1)
