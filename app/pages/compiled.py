"""Templates as they are compiled, kept beside their sources as Python keeps its modules.

`python -m app.pages.compiled` compiles them all, which set-up does; else each is kept by the first
server that needs it.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

import jinja2
from jinja2.bccache import Bucket

OPTIONS: dict[str, Any] = {"trim_blocks": True, "lstrip_blocks": True}
"""What compiling depends on besides the source and escaping, which is everywhere: no tag leaves a
line."""


class Kept(jinja2.FileSystemBytecodeCache):
    """What is kept in a folder; where nothing can be written everything is compiled anew."""

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder), "%s.jinja")

    def get_source_checksum(self, source: str) -> str:
        return super().get_source_checksum(f"{OPTIONS}{source}")

    def dump_bytecode(self, bucket: Bucket) -> None:
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                Path(self.directory).mkdir(exist_ok=True)
                super().dump_bytecode(bucket)


def main() -> None:
    """Compile and keep every template."""
    from app.pages.deps import make_templates

    sys.dont_write_bytecode = False  # asked for, whatever the environment says
    env = make_templates().env
    for name in env.list_templates(extensions=["html"]):
        env.get_template(name)


if __name__ == "__main__":
    main()
