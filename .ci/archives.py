"""The build backend: that of setuptools, with archives that depend on their content alone.

Names are sorted, owners left out, rights reduced to "may be run or not", and every time is SOURCE_DATE_EPOCH (a
convention of reproducible-builds.org), or the first day of 1980, the earliest that a wheel can hold. So two builds of one
commit give the same bytes, in whatever folder, by whatever user.
"""

from __future__ import annotations

import gzip
import io
import os
import tarfile
import time
import zipfile
from pathlib import Path

from setuptools import build_meta
from setuptools.build_meta import *  # noqa: F403 - the other hooks are those of setuptools

OWN = ".ci/archives.py"  # a wheel is built from the sdist too, and by this file
EARLIEST = 315532800


def build_wheel(wheel_directory, config_settings=None, metadata_directory=None):
    name = build_meta.build_wheel(wheel_directory, config_settings, metadata_directory)
    settle_wheel(Path(wheel_directory, name))
    return name


def build_sdist(sdist_directory, config_settings=None):
    name = build_meta.build_sdist(sdist_directory, config_settings)
    settle_sdist(Path(sdist_directory, name))
    return name


def moment():
    return max(int(os.environ.get("SOURCE_DATE_EPOCH") or EARLIEST), EARLIEST)


def settle_wheel(path):
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist() if not name.endswith("/")}
    # by the format of wheels, what describes the package comes last
    ordered = sorted(files, key=lambda name: (".dist-info/" in name, name.endswith("/RECORD"), name))
    with zipfile.ZipFile(path, "w") as archive:
        for name in ordered:
            entry = zipfile.ZipInfo(name, time.gmtime(moment())[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o100644 << 16
            archive.writestr(entry, files[name], compresslevel=9)


def settle_sdist(path):
    with tarfile.open(path) as archive:
        files = {entry.name: archive.extractfile(entry).read() for entry in archive.getmembers() if entry.isfile()}
    base = min(files).partition("/")[0]
    files[f"{base}/{OWN}"] = Path(OWN).read_bytes()
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as archive:
        for name in sorted(files):
            entry = tarfile.TarInfo(name)
            entry.size, entry.mtime, entry.mode = len(files[name]), moment(), 0o644
            archive.addfile(entry, io.BytesIO(files[name]))
    with path.open("wb") as out, gzip.GzipFile("", "wb", 9, out, mtime=moment()) as archive:
        archive.write(packed.getvalue())
