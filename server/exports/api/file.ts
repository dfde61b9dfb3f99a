import { operation } from '../../http/routes.ts';
import { XLSX_TYPE } from '../../http/xlsx.ts';
import { idParams } from '../../typedFields.ts';
import { ExportFilter, type FileFormat } from '../schemas.ts';
import { sendExport, sendSavedExport } from '../sending.ts';

const FILES = {
  csv: { id: 'Csv', type: 'text/csv', words: 'CSV' },
  xlsx: { id: 'Xlsx', type: XLSX_TYPE, words: 'XLSX, with its columns explained and the proof that it ties' },
} as const;

const downloadOf = (format: FileFormat) => ({ type: FILES[format].type, what: 'the file, streamed' });

const exportLots = (format: FileFormat) =>
  operation({
    id: `exportLots${FILES[format].id}`,
    summary: `The batch history as ${FILES[format].words}, streamed: one row a lot, or one row a cost line (rows=costLine)`,
    query: ExportFilter,
    download: downloadOf(format),
    run: (deps, { query, reply }) => sendExport(reply, deps, query, format),
  });

const exportSaved = (format: FileFormat) =>
  operation({
    id: `exportSaved${FILES[format].id}`,
    summary: `A saved export as ${FILES[format].words}, for today`,
    params: idParams,
    download: downloadOf(format),
    run: (deps, { params, reply }) => sendSavedExport(reply, deps, params.id, format),
  });

/** The same by a short name, which the document leaves out. */
const exportSavedShort = (format: FileFormat) => ({ ...exportSaved(format), hide: true });

export const csv = { lots: exportLots('csv'), saved: exportSaved('csv'), savedShort: exportSavedShort('csv') };

export const xlsx = { lots: exportLots('xlsx'), saved: exportSaved('xlsx'), savedShort: exportSavedShort('xlsx') };
