"""Build hook: Clothcast is run from its checkout, so a wheel of it is refused."""

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class RefuseWheel(BuildHookInterface):
    """Lets the editable install through and stops every other build with a sentence."""

    def initialize(self, version, build_data):
        """Called before a build; `version` is ``editable`` for the editable install."""
        if version != "editable":
            raise SystemExit(
                "Clothcast runs from its checkout and makes no wheel, because that would take the "
                "names `app` and `sim` in your environment. Use `make demo`, or `pip install -e .`"
            )
