# SPDX-License-Identifier: GPL-3.0-or-later
"""An installed library serves a program outside: through CMake's package and through pkg-config;
public headers stand alone; a shared library shows wf_ names only."""

import os
import re
import subprocess
import unittest
from pathlib import Path

import program

ROOT = Path(__file__).resolve().parents[2]
BUILD = Path(os.environ["WF_BUILD"])

OUTSIDE = r"""
#include <stdio.h>
#include <whitefringe/whitefringe.h>

int main(void)
{
    wf_error err = WF_ERROR_INIT;
    wf_observation *observation = NULL;
    const wf_status status = wf_observation_load(&observation, "no-such-job.yaml", &err);
    printf("%s: %s\n", wf_status_text(status), err.message);
    return status == WF_MISSING ? 0 : 1;
}
"""

CMAKE = """
cmake_minimum_required(VERSION 3.25)
project(outside C)
find_package(whitefringe REQUIRED)
add_executable(outside outside.c)
target_link_libraries(outside PRIVATE whitefringe::whitefringe)
"""


def run(*command, **more):
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False,
                          **more)
    if done.returncode != 0:
        raise AssertionError(f"{command}:\n{done.stdout}\n{done.stderr}")
    return done.stdout


class Install(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = program.scratch()
        cls.prefix = cls.folder / "prefix"
        run("cmake", "--install", BUILD, "--prefix", cls.prefix)
        (cls.folder / "outside.c").write_text(OUTSIDE, encoding="utf-8")
        (cls.folder / "CMakeLists.txt").write_text(CMAKE, encoding="utf-8")

    def test_a_cmake_project_finds_the_package(self):
        folder = self.folder / "build"
        run("cmake", "-S", self.folder, "-B", folder, f"-DCMAKE_PREFIX_PATH={self.prefix}")
        run("cmake", "--build", folder)
        self.assertIn("a needed thing is not there", run(folder / "outside"))

    def test_pkg_config_finds_the_library(self):
        search = ":".join(str(path.parent) for path in self.prefix.rglob("whitefringe.pc"))
        environment = {**os.environ, "PKG_CONFIG_PATH": search}
        flags = run("pkg-config", "--cflags", "--libs", "whitefringe", env=environment).split()
        run("gcc", "-std=c11", self.folder / "outside.c", "-o", self.folder / "outside", *flags)
        self.assertIn("a needed thing is not there", run(self.folder / "outside"))

    def test_the_program_is_installed(self):
        self.assertIn("correlate", run(self.prefix / "bin" / "whitefringe", "--help"))

    def test_each_public_header_stands_alone(self):
        headers = sorted((self.prefix / "include" / "whitefringe").glob("*.h"))
        self.assertGreater(len(headers), 10)
        for header in headers:
            source = f"#include <whitefringe/{header.name}>\nint alone;\n"
            run("gcc", "-std=c11", "-pedantic", "-Wall", "-Wextra", "-Werror", "-fsyntax-only",
                "-x", "c", "-", f"-I{self.prefix}/include", input=source)

    def test_a_shared_library_shows_its_own_names_only(self):
        folder = self.folder / "shared"
        run("cmake", "-S", ROOT, "-B", folder, "-DBUILD_SHARED_LIBS=ON", "-DWF_TESTS=OFF",
            "-DWF_BENCH=OFF", "-DCMAKE_BUILD_TYPE=Debug")
        run("cmake", "--build", folder, "-j2")
        symbols = run("nm", "-D", "--defined-only", folder / "lib" / "libwhitefringe.so")
        names = re.findall(r" [TDBR] (\S+)", symbols)
        self.assertGreater(len(names), 30)
        self.assertEqual([name for name in names if not name.startswith("wf_")], [])


if __name__ == "__main__":
    unittest.main(verbosity=1)
