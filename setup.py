"""What pyproject.toml can't say: `routines/` lies at the top for teachers, yet is the program's.

It is packed as the data folder `trainer/routines`, where `trainer.routine.shipped` looks.
"""

from setuptools import find_packages, setup

setup(
    packages=[*find_packages(include=["trainer", "trainer.*"]), "trainer.routines"],
    package_dir={"trainer.routines": "routines"},
)
