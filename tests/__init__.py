"""The test suite. A package, because a library that we use installs a package of this name too."""
