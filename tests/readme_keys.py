"""Put the tables of keys into the README: ``python tests/readme_keys.py``, from the clone."""

from pathlib import Path

from fieldsim.words.key_tables import markdown_tables

README = Path(__file__).parents[1] / "README.md"
BEGIN = "<!-- keys: begin (made by `python tests/readme_keys.py`) -->\n"
END = "<!-- keys: end -->\n"


def with_tables(text: str) -> str:
    """Return the README's text with the tables as they are now."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{markdown_tables()}\n{END}{after}"


if __name__ == "__main__":
    README.write_text(with_tables(README.read_text(encoding="utf-8")), encoding="utf-8")
