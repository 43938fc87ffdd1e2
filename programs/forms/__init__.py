"""Forms of the program screens."""

from .draft import DraftEditor
from .editor_page import editor_page
from .item import LABELS, ItemForm
from .life import NewProgramForm, PauseForm
from .plan import PlanForm

__all__ = [
    "LABELS",
    "DraftEditor",
    "ItemForm",
    "NewProgramForm",
    "PauseForm",
    "PlanForm",
    "editor_page",
]
