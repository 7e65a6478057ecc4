"""Write docs/measures.md from shared/measures.toml."""

from pathlib import Path

from assistant.core.measures.definitions import as_markdown, read_measures

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "measures.md"


def page() -> str:
    """What docs/measures.md must hold."""
    return as_markdown(read_measures((ROOT / "shared" / "measures.toml").read_text(encoding="utf-8")))


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
