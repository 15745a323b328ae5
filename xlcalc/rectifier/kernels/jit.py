"""How kernels are compiled; no other module imports the compiler."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Sequence
from typing import Any, TypeAlias, TypeVar

import llvmlite.binding as llvm
import numba
import numpy.typing as npt
from numba import types
from numba.extending import intrinsic

Function = TypeVar("Function", bound=Callable[..., Any])
Record: TypeAlias = Any  # a numpy record: its fields are attributes to numba only
Array: TypeAlias = npt.NDArray[Any]
Address: TypeAlias = Any  # of the first element of an array

array_at = numba.carray
"""The array at an address: its shape and type follow."""

_FLAGS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract", "reassoc", "nsz"}}


@intrinsic  # type: ignore[untyped-decorator]
def address_of(typing: Any, array: Any) -> Any:
    """Where the elements of an array begin."""

    def lower(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        data = context.make_array(array)(context, builder, arguments[0]).data
        return builder.bitcast(data, context.get_value_type(types.voidptr))

    return types.voidptr(array), lower


_FOR_LIBRARY: dict[str, Any] = {"reloc": "pic", "codemodel": "default"}
_FOR_MEMORY: dict[str, Any] = {"reloc": "static", "codemodel": "jitdefault", "jit": True}

_NEVER_CALLED = "define void @NRT_MemInfo_call_dtor(ptr %memory) { ret void }"
"""Frees what numba has allocated: no kernel allocates, but numba mentions it."""


def kernel(function: Function) -> Function:
    """Compile a helper on first use."""
    compiled: Function = numba.njit(**_FLAGS)(function)
    return compiled


def object_code(*functions: Callable[..., None]) -> bytes:
    """Object file with functions for callers in C: integers first, then addresses of arrays.

    Each returns nothing in Python; in C it returns 0, anything else if it failed.
    """
    module = llvm.parse_assembly(_NEVER_CALLED)
    for function in functions:
        kinds = [
            types.int64 if parameter.annotation == "int" else types.voidptr
            for parameter in inspect.signature(function).parameters.values()
        ]
        compiled = numba.njit(types.void(*kinds), **_FLAGS)(function).overloads[tuple(kinds)]
        part = llvm.parse_assembly(compiled.library.get_llvm_str())
        inner = compiled.fndesc.llvm_func_name
        part.link_in(llvm.parse_assembly(_outer(function.__name__, inner, kinds)))
        for defined in part.functions:
            if not defined.is_declaration and defined.name != function.__name__:
                defined.linkage = "internal"
        module.link_in(part)
    module.get_function("NRT_MemInfo_call_dtor").linkage = "internal"
    machine = llvm.Target.from_default_triple().create_target_machine(
        cpu=numba.config.CPU_NAME or "", opt=3, **(_FOR_MEMORY if sys.platform == "win32" else _FOR_LIBRARY)
    )
    passes = llvm.create_new_module_pass_manager()
    passes.add_global_dead_code_eliminate_pass()
    passes.run(module, llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options()))
    code: bytes = machine.emit_object(module)
    return code


def _outer(name: str, inner: str, kinds: Sequence[Any]) -> str:
    """The function under its own name, around the one that numba makes."""
    given = ", ".join(
        f"{'i64' if kind is types.int64 else 'ptr'} %a{number}" for number, kind in enumerate(kinds)
    )
    taken = ", ".join(["ptr", "ptr", *("i64" if kind is types.int64 else "ptr" for kind in kinds)])
    return f"""
declare i32 @"{inner}"({taken})
define i32 @{name}({given}) {{
  %result = alloca ptr
  %problem = alloca ptr
  %status = call i32 @"{inner}"(ptr %result, ptr %problem, {given})
  ret i32 %status
}}
"""
