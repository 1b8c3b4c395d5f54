"""Registers the papers of this room."""


def register_papers() -> None:
    """Called once when the app is ready."""
