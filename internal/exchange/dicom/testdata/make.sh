#!/bin/sh
# Makes the golden vectors beside this script; see README.md.
set -eu
cd "$(dirname "$0")"
/usr/bin/python3 make.py .
for bits in 8 16; do
	dcmconv +ti +e ot$bits.dcm ot$bits-implicit.dcm
	dcmconv +te -e ot$bits.dcm ot$bits-undefined.dcm
	dcmconv +tb +e ot$bits.dcm ot$bits-big.dcm
	dcmconv +td ot$bits.dcm ot$bits-deflated.dcm
	dcmcrle ot$bits.dcm ot$bits-rle.dcm
	dcmcjpeg +e1 ot$bits.dcm ot$bits-lossless.dcm
	dcmcjpls ot$bits.dcm ot$bits-jpegls.dcm
	gdcmconv --j2k ot$bits.dcm ot$bits-j2k.dcm
done
dcmconv +ti -e ot8.dcm ot8-implicit-undefined.dcm
dcmcjpeg +eb +q 95 ot8.dcm ot8-baseline.dcm
dcmcjpeg +eb +q 95 +cn +fs 1 ot8.dcm ot8-fragments.dcm
dcmcjpeg +eb +q 95 -ot ot8.dcm ot8-no-table.dcm
dcmdjpeg ot8-baseline.dcm ot8-baseline-decoded.dcm
dcmcjpeg +ee +q 95 ot12.dcm ot12-extended.dcm
dcmdjpeg ot12-extended.dcm ot12-extended-decoded.dcm
gdcmconv --rle ot8.dcm ot8-rle-other.dcm
gdcmconv --rle ot16.dcm ot16-rle-other.dcm
dcmconv +tb ot8-words.dcm ot8-words-big.dcm
