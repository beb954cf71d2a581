"""Front-end code that comes in a Python wheel, served from where it lies."""

import importlib.util
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseStorageFinder
from django.core.files.storage import FileSystemStorage


def _folder() -> Path:
    # The package itself is never imported: it would bring its own ideas of a web page.
    spec = importlib.util.find_spec("maplibre")
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError("maplibre is not installed: see requirements.in")
    return Path(spec.origin).parent / "srcjs"


class MapLibre(BaseStorageFinder):
    """Finds the two files of MapLibre GL JS, and nothing else that is in the wheel `maplibre`."""

    FILES = ("maplibre-gl.js", "maplibre-gl.css")

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(storage=FileSystemStorage(_folder()))

    def find(self, path: str, *args: Any, **kwargs: Any) -> Any:
        return super().find(path, *args, **kwargs) if path in self.FILES else []

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[Any]:
        for name, storage in super().list(ignore_patterns):
            if name in self.FILES:
                yield name, storage
