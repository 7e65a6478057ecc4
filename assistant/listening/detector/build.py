"""Build ``silero.onnx``: Silero VAD's own weights, for 16 kHz and one slot at a time, without what that never uses.

    python -m venv some-folder && some-folder/bin/pip install onnx==1.23.2 numpy
    some-folder/bin/pip download --no-deps silero-vad==6.2.1
    some-folder/bin/python -m assistant.listening.detector.build silero_vad-6.2.1-py3-none-any.whl

The published network chooses between two sample rates and works out its shapes in every call; on a slot of 32 ms that takes
more time than the arithmetic. Here the shapes are fixed and every convolution is one product of matrices::

    sound [1, 576]   64 samples of context and the slot's 512; 64 more are mirrored at the end
    frames [4, 256] ──► magnitudes [4, 129] ──► 4 convolutions over time, 4 to 2 to 1 ──► LSTM ──► probability [1, 1]
                                                                  hidden, cell [1, 1, 128] ──┘

``tests/test_speech.py`` holds it against the published network, which the moonshine-voice package carries.
"""

import sys
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

BUILT = Path(__file__).with_name("silero.onnx")
PUBLISHED = "silero_vad/data/silero_vad_16k_op15.onnx"
HOP, BANDS, HIDDEN = 128, 129, 128

Weights = NDArray[np.float32]


class Graph:
    """A graph in the making. Every value has the name of the node that gives it; a row is a step of time."""

    def __init__(self) -> None:
        self.nodes: list[onnx.NodeProto] = []
        self.constants: list[onnx.TensorProto] = []

    def constant(self, name: str, values: NDArray[np.generic] | list[int] | list[list[int]]) -> str:
        """A constant of this name; lists become int64."""
        self.constants.append(numpy_helper.from_array(np.ascontiguousarray(values), name))
        return name

    def add(self, kind: str, name: str, *inputs: str, more: tuple[str, ...] = (), **attributes: Any) -> str:
        """A node of this kind; ``more`` names what it gives besides."""
        self.nodes.append(helper.make_node(kind, list(inputs), [name, *more], name, **attributes))
        return name

    def pad(self, name: str, value: str, before: list[int], after: list[int], mode: str = "constant") -> str:
        """A value made longer: so many before and after, for each axis."""
        return self.add("Pad", name, value, self.constant(f"{name}.by", before + after), mode=mode)

    def reshape(self, name: str, value: str, *shape: int) -> str:
        """The same numbers in another shape."""
        return self.add("Reshape", name, value, self.constant(f"{name}.shape", list(shape)))

    def side_by_side(self, name: str, value: str, rows: list[list[int]]) -> str:
        """These rows of a value, each group of them as one."""
        gathered = self.add("Gather", f"{name}.rows", value, self.constant(f"{name}.which", rows), axis=0)
        return self.reshape(name, gathered, len(rows), -1)

    def linear(self, name: str, value: str, weights: Weights, bias: Weights) -> str:
        """value @ weights + bias."""
        return self.add("Gemm", name, value, self.constant(f"{name}.weights", weights), self.constant(f"{name}.bias", bias))

    def convolution(self, name: str, value: str, weights: Weights, bias: Weights, length: int, stride: int) -> str:
        """A convolution over time, three taps wide, a zero on either side, and what is negative left out.

        Args:
            name: of the result, [length / stride, out], rounded up.
            value: [length, in].
            weights: float32 [out, in, 3].
            bias: float32 [out].
            length: of the value.
            stride: from one result to the next.
        """
        rows = np.arange(0, length, stride)[:, np.newaxis] + np.arange(3)  # of the value with its zeros, for each tap
        useful = ((rows >= 1) & (rows <= length)).any(axis=0)  # the other taps see zeros alone
        padded = self.pad(f"{name}.padded", value, [1, 0], [1, 0])
        taps = self.side_by_side(f"{name}.taps", padded, rows[:, useful].tolist())
        flat = weights[:, :, useful].transpose(2, 1, 0).reshape(-1, len(weights))
        return self.add("Relu", name, self.linear(f"{name}.sum", taps, flat, bias))


def network(weights: dict[str, Weights]) -> onnx.ModelProto:
    """The network with these weights, by their published names."""
    graph = Graph()
    value = _magnitudes(graph, weights["stft.forward_basis_buffer"])
    for layer, (length, stride) in enumerate(((4, 1), (4, 2), (2, 2), (1, 1))):
        named = f"encoder.{layer}.reparam_conv"
        value = graph.convolution(f"layer{layer}", value, weights[f"{named}.weight"], weights[f"{named}.bias"], length, stride)
    value = _remembered(graph, value, weights)
    value = graph.linear("score", value, weights["decoder.decoder.2.weight"][0], weights["decoder.decoder.2.bias"])
    graph.add("Sigmoid", "probability", value)
    state = [1, 1, HIDDEN]
    return helper.make_model(
        helper.make_graph(
            graph.nodes,
            "silero",
            [_float("sound", [1, 576]), _float("hidden", state), _float("cell", state)],
            [_float("probability", [1, 1]), _float("hidden_after", state), _float("cell_after", state)],
            graph.constants,
        ),
        opset_imports=[helper.make_opsetid("", 17)],
        ir_version=8,  # of 2021: every ONNX Runtime that Tray Turns allows reads it
    )


def _magnitudes(graph: Graph, basis: Weights) -> str:
    """The sound's short-time spectrum, [4, 129]."""
    mirrored = graph.pad("mirrored", "sound", [0, 0], [0, 64], mode="reflect")
    hops = graph.reshape("hops", mirrored, -1, HOP)
    frames = graph.side_by_side("frames", hops, [[hop, hop + 1] for hop in range(4)])
    spectrum = graph.add("MatMul", "spectrum", frames, graph.constant("basis", basis[:, 0].T))
    return graph.add("ReduceL2", "magnitudes", graph.reshape("parts", spectrum, 4, 2, BANDS), axes=[1], keepdims=0)


def _remembered(graph: Graph, value: str, weights: dict[str, Weights]) -> str:
    """What an LSTM makes of it, [1, 128], what is negative left out."""
    given = [
        graph.constant(f"lstm.{name}", np.concatenate([_gates(weights[f"decoder.rnn.{part}"]) for part in parts])[np.newaxis])
        for name, parts in (("input", ["weight_ih"]), ("hidden", ["weight_hh"]), ("bias", ["bias_ih", "bias_hh"]))
    ]
    step = graph.reshape("step", value, 1, 1, HIDDEN)
    graph.add("LSTM", "all", step, *given, "", "hidden", "cell", more=("hidden_after", "cell_after"), hidden_size=HIDDEN)
    return graph.reshape("remembered", graph.add("Relu", "positive", "hidden_after"), 1, HIDDEN)


def _gates(weights: Weights) -> Weights:
    """From PyTorch's order (input, forget, cell, output) to that of ONNX (input, output, forget, cell)."""
    into, forget, cell, out = np.split(weights, 4)
    return np.concatenate((into, out, forget, cell))


def _float(name: str, shape: list[int]) -> onnx.ValueInfoProto:
    return helper.make_tensor_value_info(name, TensorProto.FLOAT, shape)


def published(wheel: Path) -> dict[str, Weights]:
    """The weights in a wheel of silero-vad, by name."""
    with zipfile.ZipFile(wheel) as archive:
        model = onnx.load_model_from_string(archive.read(PUBLISHED))
    return {constant.name.removeprefix("model."): numpy_helper.to_array(constant) for constant in model.graph.initializer}


def main(wheel: str) -> None:
    """Writes ``silero.onnx``."""
    model = network(published(Path(wheel)))
    onnx.checker.check_model(model, full_check=True)
    onnx.save(model, BUILT)


if __name__ == "__main__":
    main(*sys.argv[1:])
