"""The one error with which a picture is turned away."""


class PictureRefused(ValueError):
    """A file that cannot be taken in.

    problem: one sentence, what is wrong with it. remedy: one sentence, what the sender can do.
    field: the name of the field of the request; the door may say its own name for it with `at`.
    Both sentences may quote a file name that a stranger typed: escape them where they are shown.
    """

    def __init__(self, problem: str, remedy: str, *, field: str = "file") -> None:
        super().__init__(f"{problem} {remedy}")
        self.problem = problem
        self.remedy = remedy
        self.field = field

    def at(self, field: str) -> "PictureRefused":
        """The same refusal under another field name."""
        return PictureRefused(self.problem, self.remedy, field=field)
