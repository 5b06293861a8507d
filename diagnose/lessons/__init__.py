"""Teaching text: a fault, a visit with its numbers, the five questions, the glossary. All are pages of blocks.

`report` draws them as text or Markdown, `report.webpage` as HTML.
"""

from diagnose.lessons.fault_lesson import fault_page
from diagnose.lessons.five_questions import five_questions_page
from diagnose.lessons.glossary import glossary_page
from diagnose.lessons.heating_lesson import heating_page
from diagnose.lessons.odd_machines import ODD, odd_machines_page
from diagnose.lessons.visit_lesson import lesson_page
