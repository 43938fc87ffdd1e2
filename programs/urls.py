"""Routes of the library and programs."""

urlpatterns: list = []
