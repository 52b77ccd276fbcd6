"""What is raised when a raster file cannot be used."""

from __future__ import annotations


class RasterRefused(ValueError):
    """A file that is not imported. `sentence`, also str(error), says what is wrong and what would help."""

    def __init__(self, file_name: str, sentence: str) -> None:
        super().__init__(sentence)
        self.file_name = file_name
        self.sentence = sentence

    def __reduce__(self) -> tuple[type[RasterRefused], tuple[str, str]]:
        return type(self), (self.file_name, self.sentence)
