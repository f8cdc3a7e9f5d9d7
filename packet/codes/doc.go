// Package codes is the text on a job's paper that a scanner reads or a person
// types: job numbers, the symbol at the head of a page, and the symbols that
// carry a whole job. It knows no paper, no picture and no pump.
//
// The idea: a scan is either right or refused. Every text ends in a check of
// itself, and what is changed on its way (a slip of the finger, a scanner set to
// another country's keyboard) is put right only where the check leaves one
// meaning. Nothing is ever taken for another job.
//
// # Job number
//
//	26-0412-B        year, running number of four to six digits, check character
//
// The check character is that of ISO/IEC 7064 MOD 37-2. Numbers whose check
// character stands elsewhere on another national keyboard (A, M, Q, W, Y, Z) or
// looks like a figure (I, O, Q) or is * are not given out.
//
// # Page symbol
//
//	260412BT07Z                     T: traveller, page 7
//	260412BR0202C04H719KX3P5E0S     R: report, page 2, digest of its record
//
// The number without dashes, the document's letter, two or three digits of
// page, on a report the digest, and a MOD 37-2 check character over all of it:
// number and page have a check each. A report's page without digest, as earlier
// versions print it, is read too. The digest is 64 bits of SHA-256 in sixteen
// characters, see [Digest].
//
// # Job symbol
//
//	J1 260412B T 02 03 7K0C4H19 …   written without the spaces
//
// J1 is the format, then come number, document, index and count of the
// symbols, eight characters that name the packing (32 bits of the SHA-256 of
// the stream), and RFC 9285 base 45 of a piece of the stream followed by the
// CRC-32 of the text up to there and of the piece. The stream, the pieces
// joined, is eight bytes of digest, then in deflate (RFC 1951) with
// dictionary-1.txt as preset dictionary: the number of files, and of each file
// the length of its name, its name, the length of its data, its data; lengths
// are unsigned varints. So a misread symbol is refused by itself, symbols of two
// printings do not mix, and what comes out is what went in, to the byte.
//
// Packing the same files gives the same texts, as long as Go's deflate writes
// the same bytes, which it does not promise between versions. A packet printed
// again by a later build may so carry other symbols than the first; both open.
//
// # Versions
//
// What this version prints, every later one reads. Number and page symbols
// begin with a digit; a later format of the page symbol begins with P and a
// digit from 2, one of the job symbol with J and a digit from 2, then the job
// number as here, and Read says of those that a later version is needed. A changed dictionary is a changed
// format.
//
// # Base 45 or bytes
//
// Measured on random payloads of 200, 300, 500 and 800 bytes with
// boombuler/barcode at levels M and Q. Bytes in byte mode take 57, 69, 85 and
// 109 modules (M), 65, 81, 101 and 125 (Q); base 45 in alphanumeric mode 57, 69,
// 89 and 109, and 69, 81, 105 and 129: at most one version more, as 16.5 bits
// against 16 let expect. Byte mode comes back whole only where a reader is told
// so (zbarimg -Sbinary, ZXingReader -bytes); by default ZBar 0.23 and
// ZXing-C++ 1.4 take the bytes for some character set and hand on other bytes,
// and a keyboard-type scanner has no keys for most of them. Base 45 comes back
// from all of them. So base 45.
//
// It has a space in its alphabet, but never at the end (see encode45), and the
// header is in front: a scanner or form that trims does no harm. One that makes
// two spaces into one does; the CRC refuses it.
//
// # Keyboards
//
// A keyboard-type scanner presses keys; set to another country than the
// computer, it types other characters. Job number and digest use none that US,
// UK, German and French keyboards have at different places, apart from digits,
// which a French one has shifted. The rest is put right by [Read]. What it cannot
// put right it refuses: a German computer turns the + of a US scanner into a
// dead accent, which Windows hands on before most characters (from memory, not
// tried) and X11 swallows.
// For whole jobs set the scanner right, or give a picture of the page.
package codes
