"""Pure rules on work done at home: adherence, pain, flags, reminders, reasons."""
