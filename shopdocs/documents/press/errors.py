"""What the press refuses, in words that name the field, the problem and the remedy."""


class PressError(ValueError):
    """A sheet or a picture from which no honest paper can be drawn."""
