"""A hub for one class on one Linux computer: a password and a system account for every learner, limits on all of them.

Start it with `python -m flakeyard.workshop start`. Settings come from the environment:
CLASS_STATE (folder of the hub's own files), CLASS_IP, CLASS_PORT, CLASS_LEADER_PASSWORD, CLASS_MEMORY_MB, CLASS_DEMO.
"""

import os
import pwd
import re
import secrets
import subprocess
import sys
from pathlib import Path

from jupyterhub.spawner import LocalProcessSpawner, set_user_setuid
from nativeauthenticator import NativeAuthenticator

import flakeyard
from flakeyard.messages import say

c = get_config()  # noqa: F821 – JupyterHub puts it here
STATE = Path(os.environ.get("CLASS_STATE", "class-state")).resolve()
IP, PORT = os.environ.get("CLASS_IP", "127.0.0.1"), int(os.environ.get("CLASS_PORT", "8000"))
MEMORY_MB = int(os.environ.get("CLASS_MEMORY_MB", "1024"))
DEMO = os.environ.get("CLASS_DEMO") == "1"
LEADER = "leader"
NAME = r"[a-z][a-z0-9]{1,15}"  # what a learner may be called; nothing that could name another account or folder
BIN = Path(sys.executable).parent
STATE.mkdir(mode=0o700, exist_ok=True)


def closed_to_others(path: Path) -> Path | None:
    """The first folder on the way to the file that other accounts cannot enter, if there is one."""
    return next((folder for folder in reversed(path.resolve().parents) if not folder.stat().st_mode & 0o001), None)


def account_of(learner: str) -> str:
    """The system account of a learner: never an account that has another purpose, such as root."""
    if not re.fullmatch(NAME, learner):
        raise ValueError(f"{learner!r} is no name for a learner")
    return f"class-{learner}"


class ClassAuthenticator(NativeAuthenticator):
    """Learners choose a name and a password; the leader lets each of them in. The leader's account is made first."""

    def __init__(self, *args, **settings):
        super().__init__(*args, **settings)
        if not self.user_exists(LEADER):
            password = os.environ.get("CLASS_LEADER_PASSWORD") or secrets.token_urlsafe(12)
            if not self.create_user(LEADER, password):
                raise SystemExit(say("hub.leaders_password_too"))
            if "CLASS_LEADER_PASSWORD" not in os.environ:
                print(say("hub.name_password_shown", LEADER=LEADER, password=password), flush=True)

    def validate_username(self, username):
        return bool(re.fullmatch(NAME, username)) and super().validate_username(username)


class ClassSpawner(LocalProcessSpawner):
    """Each learner's server under a system account and in a home folder of its own, which nobody else can enter."""

    def make_preexec_fn(self, name):
        return set_user_setuid(account_of(name))

    def user_env(self, env):
        account = pwd.getpwnam(account_of(self.user.name))
        return {**env, "USER": account.pw_name, "HOME": account.pw_dir, "SHELL": account.pw_shell}

    async def start(self):
        make_account(account_of(self.user.name))
        return await super().start()


def make_account(account: str) -> None:
    """Make the account unless it is there; its home is closed to everyone else."""
    try:
        pwd.getpwnam(account)
    except KeyError:
        subprocess.run(
            ["useradd", "--create-home", "--key", "HOME_MODE=0700", "--key", "UMASK=077", "--shell", "/bin/bash",
             "--password", "!", "--comment", "a learner of the class", account],
            check=True,
        )  # fmt: skip
    home = pwd.getpwnam(account).pw_dir
    if os.stat(home).st_mode & 0o077:
        raise RuntimeError(f"the home folder of {account} is open to others; close it with: chmod 700 {home}")


# Who may reach it. Plain http: put a TLS proxy in front, or keep to one network that you trust.
c.JupyterHub.bind_url = f"http://{IP}:{PORT}"
c.JupyterHub.hub_bind_url = f"http://127.0.0.1:{PORT + 1}"
c.ConfigurableHTTPProxy.api_url = f"http://127.0.0.1:{PORT + 2}"
c.ConfigurableHTTPProxy.command = [str(STATE / "node_modules/.bin/configurable-http-proxy")]
c.ConfigurableHTTPProxy.pid_file = str(STATE / "proxy.pid")
c.JupyterHub.db_url = f"sqlite:///{STATE / 'hub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(STATE / "cookie_secret")
c.JupyterHub.tornado_settings = {
    "headers": {
        "Content-Security-Policy": "frame-ancestors 'self'; default-src 'self' 'unsafe-inline' 'unsafe-eval' data: blob:; connect-src 'self' ws: wss:"
    }
}

# Who may come in.
c.Authenticator.allow_all = True  # everyone whom the leader has let in
c.Authenticator.admin_users = {LEADER}
c.NativeAuthenticator.open_signup = False
c.NativeAuthenticator.minimum_password_length = 10
c.NativeAuthenticator.check_common_password = True
c.NativeAuthenticator.allowed_failed_logins = 5
c.NativeAuthenticator.seconds_before_next_try = 120

# What a learner's server gets. `mem_limit` is only told, not enforced, by a local process; the limits that hold here
# are set for each process by flakeyard.workshop.learner. A limit for all of a learner's processes together needs
# systemdspawner on one computer, or containers.
c.Spawner.cmd = [sys.executable, "-m", "flakeyard.workshop.learner"]
c.Spawner.mem_limit = f"{MEMORY_MB}M"
c.Spawner.environment = {
    "CLASS_MEMORY_MB": str(MEMORY_MB), "PATH": f"{BIN}:/usr/local/bin:/usr/bin:/bin", "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "JUPYTER_PLATFORM_DIRS": "1",
}  # fmt: skip
c.Spawner.env_keep = ["LANG", "LC_ALL"]
c.Spawner.default_url = "/lab/tree/workbooks/00-start-here.ipynb"
c.Spawner.notebook_dir = "~/flakeyard-class"
c.Spawner.args = [
    "--ServerApp.max_body_size=20000000",
    "--LabApp.news_url=None",
    "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    "--LabApp.extension_manager=readonly",
    "--MappingKernelManager.cull_idle_timeout=1800",
    "--MappingKernelManager.cull_interval=120",
    "--MappingKernelManager.cull_connected=True",
]
c.Spawner.start_timeout = 180
c.Spawner.http_timeout = 120
c.JupyterHub.concurrent_spawn_limit = 4  # the others are asked to try again soon: faster for all on two processors
c.JupyterHub.spawner_class = ClassSpawner
c.JupyterHub.authenticator_class = ClassAuthenticator
c.JupyterHub.cleanup_servers = True

# Servers that nobody has used for an hour end.
c.JupyterHub.services = [
    {"name": "idle", "command": [sys.executable, "-m", "jupyterhub_idle_culler", "--timeout=3600", "--cull-every=300"]}
]
c.JupyterHub.load_roles = [
    {
        "name": "idle",
        "services": ["idle"],
        "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"],
    }
]

if DEMO:
    # ONLY TO SHOW IT, never for a class: one password for all, one system account, every learner can read the others.
    if IP not in ("127.0.0.1", "localhost"):
        raise SystemExit(say("hub.demo_computer_only"))
    c.JupyterHub.authenticator_class = "dummy"
    c.DummyAuthenticator.password = os.environ.get("CLASS_LEADER_PASSWORD") or secrets.token_urlsafe(9)
    print(say("hub.demo_not_class", password=c.DummyAuthenticator.password), flush=True)
    c.JupyterHub.spawner_class = "simple"
    c.SimpleLocalProcessSpawner.home_dir_template = str(STATE / "demo-homes" / "{username}")
    c.Spawner.args = [*c.Spawner.args, "--allow-root"]
elif os.geteuid() != 0:
    raise SystemExit(say("hub.hub_makes_system"))
elif closed := closed_to_others(Path(sys.executable)) or closed_to_others(Path(flakeyard.__file__)):
    raise SystemExit(say("hub.learners_cannot_enter", closed=closed))
