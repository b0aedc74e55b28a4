"""Rate laws drawn from what is unsure about a calibration."""

import numpy as np

from layup.chemistry.uncertainty import shift_of, shifted


def draw_kinetics(calibration, count, *, seed):
    """Draw laws, normal along each direction of the calibration's variants, with its covariance."""
    covariance = np.array(calibration.covariance)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    amounts = np.random.default_rng(seed).standard_normal((count, len(covariance))) @ root.T
    return tuple(shifted(calibration.kinetics, shift_of(calibration.variants, row)) for row in amounts.tolist())
