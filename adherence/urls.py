"""Routes of patient and therapist."""

urlpatterns: list = []
