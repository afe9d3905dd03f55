"""The templates' words: jinja's tags `trans` and `_()`, in the language of a book."""

from __future__ import annotations

from jinja2 import Environment, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from ..translation.catalog import Translation
from ..variations.printed_names import label_words


def speak(env: Environment, translation: Translation) -> None:
    """Let an environment say its templates' messages, and whatever it is given, in a language.

    The values within a message are escaped like everything else; the message itself is ours.
    """

    def filled(context: Context, message: str, values: dict[str, object]) -> str:
        said = {
            name: translation.say(value) if isinstance(value, str) else value
            for name, value in values.items()
        }
        return (Markup(message) if context.eval_ctx.autoescape else message) % said

    @pass_context
    def gettext(context: Context, message: str, /, **values: object) -> str:
        return filled(context, translation.gettext(message), values)

    @pass_context
    def ngettext(context: Context, one: str, many: str, count: int, /, **values: object) -> str:
        return filled(context, translation.ngettext(one, many, count), {"num": count, **values})

    # MkDocs adds the extension to every environment, for other themes and their own catalogs.
    env.add_extension("jinja2.ext.i18n")
    env.newstyle_gettext = True  # type: ignore[attr-defined]
    env.globals.update(gettext=gettext, ngettext=ngettext, language=translation.language)
    env.filters["say"] = translation.say
    env.filters["term"] = translation.gettext
    env.filters["label"] = label_words
    # Whatever a template prints passes it.
    env.finalize = translation.say
