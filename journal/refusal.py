"""The one exception that is meant for the keeper."""


class Refusal(Exception):
    """A command cannot do what it was asked; its text is a sentence for the keeper, without the final full stop."""
