"""YAML with a line and column for every value, in the plain subset that people who are no programmers can rely on.

Only `true` and `false` are truth values (`no` and `off` stay words), only decimal notation is a number, and there are
no dates, tags, anchors or aliases. What is wrong is a `Problem`: where, what, and one sentence how to mend it; reading
stops with `InputProblems`, which holds all that were found, and with nothing else.
"""

from diagnose.yamlfile.content import CSV_ENDINGS, STANDARD_INPUT, content_of
from diagnose.yamlfile.events import DEEPEST, MOST_PROBLEMS, MOST_VALUES, SPLIT, UNPRINTABLE, is_text, parse, read
from diagnose.yamlfile.problems import (
    Document,
    InputProblems,
    Mistake,
    Problem,
    did_you_mean,
    each,
    first_line,
    from_data,
    printable,
    reason_of,
    refusal,
)
from diagnose.yamlfile.pydantic_errors import model_problems
