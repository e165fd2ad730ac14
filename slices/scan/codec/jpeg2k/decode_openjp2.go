//go:build openjp2 && cgo

package jpeg2k

/*
#cgo pkg-config: libopenjp2
#include <stdlib.h>
#include <string.h>
#include <openjpeg.h>

// source is the frame in memory, as the library's stream callbacks see it.
typedef struct {
	const unsigned char *data;
	OPJ_SIZE_T size, pos;
} source;

static OPJ_SIZE_T source_read(void *buf, OPJ_SIZE_T n, void *user) {
	source *s = user;
	OPJ_SIZE_T left = s->size - s->pos;
	if (left == 0) return (OPJ_SIZE_T)-1;
	if (n > left) n = left;
	memcpy(buf, s->data + s->pos, n);
	s->pos += n;
	return n;
}

static OPJ_OFF_T source_skip(OPJ_OFF_T n, void *user) {
	source *s = user;
	if (n < 0 || (OPJ_SIZE_T)n > s->size - s->pos) {
		s->pos = s->size;
		return -1;
	}
	s->pos += n;
	return n;
}

static OPJ_BOOL source_seek(OPJ_OFF_T n, void *user) {
	source *s = user;
	if (n < 0 || (OPJ_SIZE_T)n > s->size) return OPJ_FALSE;
	s->pos = n;
	return OPJ_TRUE;
}

// note keeps the first message of the library; later ones only follow from it.
#define NOTE 256
static void note(const char *msg, void *user) {
	char *text = user;
	if (text[0] == 0) strncpy(text, msg, NOTE - 1);
}

static void ignore(const char *msg, void *user) {}

// decode returns the image, or NULL with the library's words in text. A stream
// cut short is an error: the library's lenient mode would fill in grey.
static opj_image_t *decode(const void *data, size_t size, char *text) {
	source src = {data, size, 0};
	opj_image_t *img = NULL;
	int ok = 0;
	opj_codec_t *codec = opj_create_decompress(OPJ_CODEC_J2K);
	opj_stream_t *stream = opj_stream_create(size < 1 << 16 ? 1 << 16 : 1 << 20, OPJ_TRUE);
	if (codec && stream) {
		opj_dparameters_t par;
		opj_set_default_decoder_parameters(&par);
		opj_set_error_handler(codec, note, text);
		opj_set_warning_handler(codec, ignore, NULL);
		opj_set_info_handler(codec, ignore, NULL);
		opj_stream_set_user_data(stream, &src, NULL);
		opj_stream_set_user_data_length(stream, size);
		opj_stream_set_read_function(stream, source_read);
		opj_stream_set_skip_function(stream, source_skip);
		opj_stream_set_seek_function(stream, source_seek);
		ok = opj_setup_decoder(codec, &par)
			&& opj_decoder_set_strict_mode(codec, OPJ_TRUE)
			&& opj_read_header(stream, codec, &img)
			&& opj_decode(codec, stream, img)
			&& opj_end_decompress(codec, stream);
	}
	if (stream) opj_stream_destroy(stream);
	if (codec) opj_destroy_codec(codec);
	if (!ok && img) {
		opj_image_destroy(img);
		img = NULL;
	}
	return img;
}
*/
import "C"

import (
	"strings"
	"unsafe"

	"sectionary/slices/scan/codec"
)

// Built says whether this build can decode JPEG 2000.
const Built = true

// Decode decodes one whole frame after holding its header against want. A
// colour transform of the code stream is undone.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	stream, h, err := check(data, want)
	if err != nil {
		return codec.Frame{}, err
	}
	text := (*C.char)(C.calloc(1, C.NOTE))
	defer C.free(unsafe.Pointer(text))
	img := C.decode(unsafe.Pointer(unsafe.SliceData(stream)), C.size_t(len(stream)), text)
	if img == nil {
		return codec.Frame{}, corrupt("%s", strings.TrimSpace(C.GoString(text)))
	}
	defer C.opj_image_destroy(img)

	comps := unsafe.Slice(img.comps, int(img.numcomps))
	if len(comps) != h.samples {
		return codec.Frame{}, corrupt("%d components decoded of %d", len(comps), h.samples)
	}
	f := codec.Frame{
		Width: h.width, Height: h.height, Samples: h.samples, Bits: h.bits, Signed: h.signed,
		Pix: make([]uint16, h.width*h.height*h.samples),
	}
	if h.transformed {
		f.Colour = codec.RGB
	}
	for i, c := range comps {
		if c.data == nil || int(c.w) != h.width || int(c.h) != h.height {
			return codec.Frame{}, corrupt("component %d was not decoded whole", i+1)
		}
		src := unsafe.Slice((*int32)(unsafe.Pointer(c.data)), h.width*h.height)
		if f.Samples == 1 {
			pix := f.Pix[:len(src)]
			for k, v := range src {
				pix[k] = uint16(v)
			}
			continue
		}
		for k, v := range src {
			f.Pix[i+k*f.Samples] = uint16(v)
		}
	}
	return f, nil
}
