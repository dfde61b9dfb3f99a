import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { ExportFilter, type FileFormat } from '../schemas.ts';
import { sendExport, sendSavedExport } from '../sending.ts';

const ofHistory = (format: FileFormat) =>
  page({
    query: ExportFilter,
    show: (deps, { query, reply }) => sendExport(reply, deps, query, format),
  });

const ofSaved = (format: FileFormat) =>
  page({
    params: idParams,
    show: (deps, { params, reply }) => sendSavedExport(reply, deps, params.id, format),
  });

export const historyFile = { csv: ofHistory('csv'), xlsx: ofHistory('xlsx') };

export const savedFile = { csv: ofSaved('csv'), xlsx: ofSaved('xlsx') };
