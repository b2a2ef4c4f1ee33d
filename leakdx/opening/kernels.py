"""How the servers start kernels: the one kept warm first, further ones as usual."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import zmq
from jupyter_client.connect import KernelConnectionInfo
from jupyter_client.manager import KernelManager
from jupyter_client.provisioning.factory import KernelProvisionerFactory
from jupyter_client.provisioning.local_provisioner import LocalProvisioner
from jupyter_client.provisioning.provisioner_base import KernelProvisionerBase

from leakdx.opening.warm import WarmKernel


def kernel_settings() -> dict[str, Any]:
    """Settings of each kernel: nobody else on this computer reads along, and a quick end."""
    settings: dict[str, Any] = {"shutdown_wait_time": 2.0}
    # Older programs of Jupyter cannot encrypt; their kernels only check who writes.
    if zmq.has("curve") and "transport_encryption" in KernelManager.class_trait_names():
        settings["transport_encryption"] = "auto"
    return settings


class WarmFirst(LocalProvisioner):
    """Takes the warm kernel where there is one, and else starts a process."""

    warm = WarmKernel()

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> KernelConnectionInfo:
        """Start the kernel of ``cmd``; gives how to connect to it."""
        env = dict(kwargs.get("env") or os.environ) | {"JPY_PARENT_PID": str(os.getpid())}
        cwd = str(kwargs.get("cwd") or Path.cwd())
        process = self.warm.take(cmd, env, cwd)
        if process is None:
            return await super().launch_kernel(cmd, **kwargs)
        self.process = process
        self.pid = process.pid
        self.pgid = os.getpgid(process.pid) if hasattr(os, "getpgid") else None
        self.cwd = cwd
        return self.connection_info


class _Factory(KernelProvisionerFactory):
    def create_provisioner_instance(
        self, kernel_id: str, kernel_spec: Any, parent: Any
    ) -> KernelProvisionerBase:
        return WarmFirst(kernel_id=kernel_id, kernel_spec=kernel_spec, parent=parent)


def use(warm: WarmKernel) -> None:
    """Have the first kernel that is started from here on be ``warm``."""
    WarmFirst.warm = warm
    # There is one factory in a process, and whoever asks for it gets this one.
    _Factory.instance()
