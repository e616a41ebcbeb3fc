"""Writes the base images of the golden vectors with pydicom 2.3.1.

Usage: python3 make.py DIRECTORY. See README.md for the tools that follow.
Every patient is invented; every sample follows a formula that the tests repeat.
"""

import os
import sys

import numpy
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.sequence import Sequence
from pydicom.uid import ExplicitVRLittleEndian

FRAMES, ROWS, COLUMNS = 3, 24, 20


def samples(bits):
    """value = (7·frame + 3·row + 5·column + row·column) · step mod 2^bits"""
    f, r, c = numpy.indices((FRAMES, ROWS, COLUMNS))
    step = 1 if bits == 8 else 37
    values = (7 * f + 3 * r + 5 * c + r * c) * step % (1 << bits)
    return values.astype(numpy.uint8 if bits == 8 else "<u2")


def item(**attributes):
    d = Dataset()
    for keyword, value in attributes.items():
        setattr(d, keyword, value)
    return d


def common(sop_class, number):
    meta = FileMetaDataset()
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.MediaStorageSOPClassUID = sop_class
    meta.MediaStorageSOPInstanceUID = "2.25.9000%d" % number
    d = Dataset()
    d.file_meta = meta
    d.is_little_endian, d.is_implicit_VR = True, False
    d.preamble = b"\0" * 128
    d.SOPClassUID, d.SOPInstanceUID = sop_class, meta.MediaStorageSOPInstanceUID
    d.StudyInstanceUID, d.SeriesInstanceUID = "2.25.91", "2.25.92"
    d.SpecificCharacterSet = "ISO_IR 100"
    d.PatientName, d.PatientID = "Phantom^Invented", "INVENTED-1"
    d.PatientBirthDate, d.PatientSex = "", ""
    d.Manufacturer, d.ManufacturerModelName = "Invented M\u00fcller", "Model of no maker"
    return d


def pixels(d, values, bits):
    d.SamplesPerPixel, d.PhotometricInterpretation = 1, "MONOCHROME2"
    d.Rows, d.Columns = values.shape[-2:]
    allocated = 8 * values.dtype.itemsize
    d.BitsAllocated, d.BitsStored, d.HighBit, d.PixelRepresentation = allocated, bits, bits - 1, 0
    d.PixelData = values.tobytes()
    d["PixelData"].VR = "OW" if allocated == 16 else "OB"


def tomography(bits, number):
    d = common("1.2.840.10008.5.1.4.1.1.77.1.5.4", number)
    d.Modality, d.ImageType = "OPT", ["ORIGINAL", "PRIMARY"]
    d.AcquisitionDateTime = "20240229101530.25+0100"
    d.ImageLaterality, d.NumberOfFrames = "R", FRAMES
    d.AxialLengthOfTheEye = 24.46
    d.LossyImageCompression = "00"
    d.DepthSpatialResolution = 7.0
    measures = item(PixelSpacing=["0.0039", "0.0117"], SliceThickness="0.2")
    anatomy = item(FrameLaterality="R", AnatomicRegionSequence=Sequence([
        item(CodeValue="81745001", CodingSchemeDesignator="SCT", CodeMeaning="Eye")]))
    orientation = item(ImageOrientationPatient=[1, 0, 0, 0, 1, 0])
    d.SharedFunctionalGroupsSequence = Sequence([item(
        PixelMeasuresSequence=Sequence([measures]), FrameAnatomySequence=Sequence([anatomy]),
        PlaneOrientationSequence=Sequence([orientation]))])
    d.PerFrameFunctionalGroupsSequence = Sequence([item(
        FrameContentSequence=Sequence([item(DimensionIndexValues=[k + 1])]),
        PlanePositionSequence=Sequence([item(ImagePositionPatient=[-0.1, 0.5, 0.03125 * k])]))
        for k in range(FRAMES)])
    d.add_new(0x00990010, "LO", "INVENTED PRIVATE")
    d.add_new(0x00991001, "UN", b"\x01\x02\x03\x04\x05\x06")
    d.add_new(0x00991002, "FD", [1.5, -2.25])
    d.add_new(0x00991003, "SQ", Sequence([item(TextString="within a private sequence")]))
    d.add_new(0x00080301, "US", 7)
    pixels(d, samples(bits), bits)
    return d


def slices():
    for k in range(4):
        d = common("1.2.840.10008.5.1.4.1.1.7", 40 + k)
        d.Modality, d.Laterality, d.InstanceNumber = "OPT", "L", 4 - k
        d.PixelSpacing = ["0.004", "0.006"]
        d.ImagePositionPatient = [0, 0, "%.4f" % (0.031 * k)]
        d.ImageOrientationPatient = [1, 0, 0, 0, 1, 0]
        values = samples(8)[0] + numpy.uint8(k)
        pixels(d, values, 8)
        yield "series-%d.dcm" % (k + 1), d


def main(directory):
    files = [("ot8.dcm", tomography(8, 8)), ("ot16.dcm", tomography(16, 16)), ("ot12.dcm", tomography(12, 12))]
    files += list(slices())
    colour = tomography(8, 3)
    values = numpy.repeat(samples(8)[..., None], 3, axis=3)
    colour.PixelData, colour.SamplesPerPixel = values.tobytes(), 3
    colour.PhotometricInterpretation, colour.PlanarConfiguration = "RGB", 0
    files.append(("rgb.dcm", colour))
    words = tomography(8, 4)
    words["PixelData"].VR = "OW"
    files.append(("ot8-words.dcm", words))
    for name, d in files:
        d.save_as(os.path.join(directory, name), write_like_original=False)


main(sys.argv[1])
