/** Said with every request for work, whatever it asks for. Common practice, no source. */
export const CAUTIONS = [
  'Local codes, site procedures and licensed practice come first; this is advice.',
  'Tell the control room and take the signal out of control, alarm and reporting use by site procedure before touching anything.',
  'Close the inlet and outlet valves and relieve the pressure before opening the flow cell.',
  'Do not look into the light source; do not touch optical faces.',
  'Handle formazin and other standards by their safety data sheet.',
  'Write down as found before anything is touched: afterwards it cannot be had again.',
  'Never adjust on flowing process water, to a grab sample or to a neighbouring analyzer.',
] as const
