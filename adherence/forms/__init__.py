"""Forms of the patient's and the therapist's screens: they translate input, nothing more."""
