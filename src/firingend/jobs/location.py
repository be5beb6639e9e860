"""Where the store is: by option, by environment variable, by config file, or in the platform's data folder."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from firingend.jobs.problems import StoreError

FOLDER_VARIABLE: Final = "FIRINGEND_DATA"
URL_VARIABLE: Final = "FIRINGEND_DATABASE_URL"
CONFIG_VARIABLE: Final = "FIRINGEND_CONFIG"


@dataclass(frozen=True, slots=True)
class Location:
    """Where a store is.

    Attributes
    ----------
    folder
        Holds photographs, thumbnails, backups, and the database where there is no URL.
    url
        Of a PostgreSQL database; None for SQLite in the folder.
    """

    folder: Path
    url: str | None = None

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.folder / "firingend.db"

    @property
    def photos(self) -> Path:
        """Folder of the original photographs."""
        return self.folder / "photos"

    @property
    def backups(self) -> Path:
        """Folder of the dated backups."""
        return self.folder / "backups"


def config_file(environment: Mapping[str, str] | None = None) -> Path:
    """The config file, whether or not it is there."""
    said = (os.environ if environment is None else environment).get(CONFIG_VARIABLE)
    if said:
        return Path(said)
    from platformdirs import user_config_path

    return user_config_path("firingend", appauthor=False) / "config.toml"


def find_location(
    folder: Path | None = None, url: str | None = None, environment: Mapping[str, str] | None = None
) -> Location:
    """Where the store is: what is given here goes before the environment, that before the config file.

    Raises
    ------
    StoreError
        The config file is not what it must be.
    """
    environment = os.environ if environment is None else environment
    config = _read_config(config_file(environment))
    # A folder named outright means the store in that folder, not one that a lower layer names by URL.
    url = url or (None if folder else environment.get(URL_VARIABLE))
    if not url and not folder and not environment.get(FOLDER_VARIABLE):
        url = config.get("database_url")
    said = folder or environment.get(FOLDER_VARIABLE) or config.get("data_folder")
    if said:
        return Location(Path(said).expanduser(), url)
    from platformdirs import user_data_path

    return Location(user_data_path("firingend", appauthor=False), url)


def write_config(file: Path, location: Location) -> None:
    """Have later commands use this store."""
    import json

    from firingend.report.files import write_whole

    settings = {"data_folder": str(location.folder.resolve())}
    if location.url:
        settings["database_url"] = location.url
    text = "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in settings.items())
    file.parent.mkdir(parents=True, exist_ok=True)
    write_whole(file, text.encode("utf-8"))


def _read_config(file: Path) -> Mapping[str, str]:
    remedy = 'write data_folder = "…" or database_url = "…", or delete the file'
    try:
        config = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise StoreError(f"{file} cannot be read ({error})", remedy) from error
    for key, value in config.items():
        if key not in ("data_folder", "database_url") or not isinstance(value, str) or not value:
            raise StoreError(f'{file}: "{key}" is not a setting with a text', remedy)
    return config
